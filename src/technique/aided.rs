//! A plan with aids: another wire after some attempts, a guide pointed anew between attempts.

use crate::hands::{Movement, Plan, Turns, View};
use crate::scenario::model::AidsSpec;

pub(super) struct Aided {
    inner: Box<dyn Plan>,
    /// Attempts after which the wire is changed, until it is.
    exchange_after: Option<u32>,
    /// Number of ways to point the guide.
    aims: usize,
    /// Attempts for which the guide has been pointed.
    aimed_for: u32,
}

impl Aided {
    pub(super) fn new(inner: Box<dyn Plan>, aids: &AidsSpec) -> Self {
        Self {
            inner,
            exchange_after: aids.exchange.as_ref().map(|e| e.after),
            aims: aids.guide_aims.len(),
            aimed_for: 1,
        }
    }
}

impl Plan for Aided {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        let attempts = self.inner.attempts();
        if self.exchange_after.is_some_and(|after| attempts > after) {
            self.exchange_after = None;
            return Movement::ChangeWire;
        }
        if self.aims > 0 && attempts > self.aimed_for {
            let which = (self.aimed_for - 1) as usize % self.aims;
            self.aimed_for = attempts;
            return Movement::AimGuide(which);
        }
        self.inner.next(view, turns)
    }

    fn attempts(&self) -> u32 {
        self.inner.attempts()
    }

    fn after_reaching(&mut self, view: &View) -> Option<Movement> {
        self.inner.after_reaching(view)
    }
}
