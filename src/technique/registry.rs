//! What one line of the registry becomes.

/// Makes of a line `"kind" => file::{Settings, Fields}` for each technique the enums of settings
/// and of fields, and the way from either to the technique. Every `match` stands here and has an
/// arm for each line, so no technique can be left out of one.
macro_rules! registry {
    ($($(#[$only:meta])* $kind:literal => $file:ident::{$settings:ident, $fields:ident},)+) => {
        $($(#[$only])* pub use self::$file::$settings;)+

        /// A technique with its checked settings.
        #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
        pub enum PlanSpec {
            $(
                $(#[$only])*
                #[doc = concat!("`kind = \"", $kind, "\"`.")]
                #[serde(rename = $kind)]
                $settings($settings),
            )+
        }

        impl PlanSpec {
            /// Its kind, as a scenario says it.
            #[must_use]
            pub fn kind(&self) -> &'static str {
                match self {
                    $($(#[$only])* Self::$settings(_) => $kind,)+
                }
            }

            /// What it is asked.
            #[must_use]
            pub fn technique(&self) -> &dyn Technique {
                match self {
                    $($(#[$only])* Self::$settings(settings) => settings,)+
                }
            }
        }

        $(
            $(#[$only])*
            impl From<$settings> for PlanSpec {
                fn from(settings: $settings) -> Self {
                    Self::$settings(settings)
                }
            }
        )+

        /// What the hands do.
        #[derive(Debug, serde::Deserialize, schemars::JsonSchema)]
        #[serde(tag = "kind")]
        #[schemars(extend("x-kind" = "a kind of technique"))]
        pub(crate) enum PlanTable {
            $(
                $(#[$only])*
                #[serde(rename = $kind)]
                $settings($file::$fields),
            )+
        }

        impl PlanTable {
            /// The checked settings.
            pub(crate) fn checked(
                &self,
                around: Around<'_>,
            ) -> crate::schema::Read<PlanSpec> {
                match self {
                    $($(#[$only])* Self::$settings(fields) => fields.checked(around),)+
                }
            }

            /// The file of movements that it names.
            pub(crate) fn recording(&self) -> Option<&str> {
                match self {
                    $($(#[$only])* Self::$settings(fields) => fields.recording(),)+
                }
            }

            /// The branch that is to hold the tip for a while.
            pub(crate) fn anchor(&self) -> Option<&str> {
                match self {
                    $($(#[$only])* Self::$settings(fields) => fields.anchor(),)+
                }
            }
        }
    };
}

pub(super) use registry;
