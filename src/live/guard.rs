//! Who may talk to the server: pages that it has given out itself, to somebody who has its address.
//!
//! The port is open to every program and every web site in a browser of this machine. A site cannot
//! read the token in the address; it cannot send the `Host` of this server by a name of its own
//! (rebinding); and a browser puts its true `Origin` on every connection of a page.

use std::net::SocketAddr;

/// Length of a token in characters.
const TOKEN: usize = 32;

/// What a request says of where it comes from.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct From<'r> {
    /// Token in its address.
    pub token: &'r str,
    /// Its `Host`.
    pub host: Option<&'r str>,
    /// Its `Origin`, which browsers send from pages.
    pub origin: Option<&'r str>,
}

/// Knows its own.
#[derive(Debug, Clone)]
pub(super) struct Guard {
    token: String,
    hosts: [String; 2],
}

impl Guard {
    /// A guard of a server at `address`, with a token that nobody can guess.
    pub(super) fn new(address: SocketAddr) -> Self {
        let token: u128 = rand::random();
        let port = address.port();
        Self {
            token: format!("{token:032x}"),
            hosts: [format!("127.0.0.1:{port}"), format!("localhost:{port}")],
        }
    }

    /// The address of the page.
    pub(super) fn address(&self) -> String {
        format!("http://{}/{}/", self.hosts[0], self.token)
    }

    /// Why a request is refused; `None` for one that is let in. A socket must come from a page.
    pub(super) fn refusal(&self, from: From<'_>, is_socket: bool) -> Option<&'static str> {
        let is_ours = |host: &str| self.hosts.iter().any(|own| own == host);
        if !from.host.is_some_and(is_ours) {
            return Some("the host of the request is not this server");
        }
        let page = from
            .origin
            .and_then(|origin| origin.strip_prefix("http://"));
        match (from.origin, page) {
            (None, _) if is_socket => return Some("a socket is opened by the page alone"),
            (Some(_), page) if !page.is_some_and(is_ours) => {
                return Some("the request comes from another site");
            }
            _ => {}
        }
        (!self.knows(from.token)).then_some("the address is not complete: copy it as a whole")
    }

    /// Whether it is the token, in a time that does not tell how much of it is right.
    fn knows(&self, token: &str) -> bool {
        if token.len() != TOKEN {
            return false;
        }
        let pairs = token.bytes().zip(self.token.bytes());
        pairs.fold(0, |off, (a, b)| off | (a ^ b)) == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_page_of_this_server_with_its_token_is_let_in() {
        let guard = Guard::new(SocketAddr::from(([127, 0, 0, 1], 4711)));
        let other = Guard::new(SocketAddr::from(([127, 0, 0, 1], 4711)));
        assert_ne!(guard.token, other.token);
        let own = From {
            token: &guard.token,
            host: Some("127.0.0.1:4711"),
            origin: Some("http://127.0.0.1:4711"),
        };
        assert_eq!(guard.refusal(own, true), None);
        let by_name = From {
            host: Some("localhost:4711"),
            origin: Some("http://localhost:4711"),
            ..own
        };
        assert_eq!(guard.refusal(by_name, true), None);
        // A person who types the address sends no origin.
        let typed = From {
            origin: None,
            ..own
        };
        assert_eq!(guard.refusal(typed, false), None);
        assert!(guard.refusal(typed, true).is_some());
        let short = &guard.token[1..];
        for wrong in [
            From { token: "", ..own },
            From {
                token: short,
                ..own
            },
            From {
                token: &other.token,
                ..own
            },
            From { host: None, ..own },
            From {
                host: Some("evil.example:4711"),
                ..own
            },
            From {
                host: Some("127.0.0.1:4712"),
                ..own
            },
            From {
                origin: Some("http://evil.example"),
                ..own
            },
            From {
                origin: Some("http://127.0.0.1:4712"),
                ..own
            },
            From {
                origin: Some("https://127.0.0.1:4711"),
                ..own
            },
            From {
                origin: Some("null"),
                ..own
            },
        ] {
            assert!(guard.refusal(wrong, false).is_some(), "{wrong:?}");
            assert!(guard.refusal(wrong, true).is_some(), "{wrong:?}");
        }
    }
}
