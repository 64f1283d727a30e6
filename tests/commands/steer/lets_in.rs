//! Nobody but the page of this server, in a browser of this machine, can read or move anything.

use serde_json::json;
use tungstenite::Message;

use super::Server;

fn server() -> (tempfile::TempDir, Server) {
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::start("side-branch.toml", &folder.path().join("hand"), &[]);
    (folder, server)
}

/// The lines of a request for a path.
fn get(path: &str, host: &str, more: &[&str]) -> Vec<String> {
    let mut lines = vec![
        format!("GET {path} HTTP/1.1"),
        format!("Host: {host}"),
        "Connection: close".to_owned(),
    ];
    lines.extend(more.iter().map(|line| (*line).to_owned()));
    lines
}

#[test]
fn a_page_is_given_to_who_has_the_whole_address_and_to_nobody_else() {
    let (_folder, server) = server();
    let (host, token) = (server.host.clone(), server.token.clone());
    assert!(host.starts_with("127.0.0.1:"), "{host}");
    let own = format!("/{token}/");
    let page = server.asked(&get(&own, &host, &[]));
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    assert!(
        page.contains("not for clinical decisions"),
        "the page says what it is for"
    );
    for header in [
        "content-security-policy: default-src 'none'",
        "frame-ancestors 'none'",
        "x-frame-options: DENY",
        "referrer-policy: no-referrer",
        "cross-origin-resource-policy: same-origin",
        "cache-control: no-store",
    ] {
        assert!(page.contains(header), "{header}\n{page}");
    }
    assert!(!page.contains("access-control-allow-origin"), "{page}");
    let script = server.asked(&get(&format!("{own}page.js"), &host, &[]));
    assert!(script.starts_with("HTTP/1.1 200") && script.contains("use strict"));
    let port = host.rsplit(':').next().expect("a port");
    let wrong = "0123456789abcdef0123456789abcdef";
    for (path, host, more) in [
        ("/", host.as_str(), ""),
        (&format!("/{wrong}/"), &host, ""),
        (&format!("/{}/", &token[..31]), &host, ""),
        // A name of somebody's own that leads here.
        (&own, &format!("evil.example:{port}"), ""),
        (&own, "127.0.0.1", ""),
        (&own, &host, "Origin: http://evil.example"),
        (&own, &host, "Origin: null"),
        (
            &format!("{own}page.js"),
            &host,
            "Origin: https://evil.example",
        ),
    ] {
        let more: Vec<&str> = Some(more)
            .filter(|line| !line.is_empty())
            .into_iter()
            .collect();
        let answer = server.asked(&get(path, host, &more));
        assert!(
            answer.starts_with("HTTP/1.1 403"),
            "{path} {host} {more:?}: {answer}"
        );
        assert!(!answer.contains("<html"), "{answer}");
    }
    let mut post = get(&own, &host, &["Content-Length: 0"]);
    post[0] = format!("POST {own} HTTP/1.1");
    assert!(server.asked(&post).starts_with("HTTP/1.1 405"));
}

#[test]
fn a_socket_is_opened_by_the_page_alone() {
    let (_folder, server) = server();
    let (host, token) = (server.host.clone(), server.token.clone());
    let own = format!("http://{host}");
    let port = host.rsplit(':').next().expect("a port");
    let evil = format!("evil.example:{port}");
    let wrong = "0123456789abcdef0123456789abcdef";
    for (token, host, origin) in [
        (wrong, host.as_str(), Some(own.as_str())),
        (&token, &host, Some("http://evil.example")),
        (&token, &host, Some(&*format!("http://{evil}"))),
        (&token, &host, Some("http://127.0.0.1:1")),
        (&token, &host, Some("null")),
        (&token, &host, None),
        (&token, &evil, Some(&*format!("http://{evil}"))),
        (&token, &evil, Some(&own)),
    ] {
        let refused = server.socket(token, host, origin).err().unwrap_or_default();
        assert!(
            refused.contains("403"),
            "{token} {host} {origin:?}: {refused:?}"
        );
    }
    assert!(server.socket(&token, &host, Some(&own)).is_ok());
}

#[test]
fn long_and_foreign_messages_end_or_are_refused_and_move_nothing() {
    let (_folder, server) = server();
    let mut page = server.page();
    page.make("feed");
    for said in [
        json!({ "fly": 1 }),
        json!("stop"),
        json!({ "move": { "line": "feed" } }),
    ] {
        page.say(&said);
        let heard = page.hear();
        assert!(heard["refused"].is_string(), "{heard}");
    }
    page.say(&json!({ "move": { "line": "x".repeat(1000), "at": 1 } }));
    assert!(
        page.socket.read().is_err(),
        "a long message ends the connection"
    );
    let mut page = server.page();
    assert_eq!(page.at, 1);
    let _ = page.socket.send(Message::binary(vec![0_u8; 16]));
    assert!(
        !matches!(page.socket.read(), Ok(Message::Text(_))),
        "bytes are no message"
    );
    assert_eq!(server.page().at, 1);
}

#[test]
fn a_second_tab_takes_over_and_the_first_is_told() {
    let (_folder, server) = server();
    let mut first = server.page();
    first.make("feed");
    let mut second = server.page();
    assert_eq!(second.at, 1);
    let told = first.hear();
    assert!(
        told["gone"]
            .as_str()
            .is_some_and(|why| why.contains("another tab")),
        "{told}"
    );
    assert!(!matches!(first.socket.read(), Ok(Message::Text(_))));
    second.make("feed");
    assert_eq!(second.at, 2);
}

#[test]
fn a_page_that_is_behind_moves_nothing() {
    let (_folder, server) = server();
    let mut page = server.page();
    page.make("feed");
    page.at = 0;
    let heard = page.make("feed");
    assert!(
        heard["refused"]
            .as_str()
            .is_some_and(|why| why.contains("moment")),
        "{heard}"
    );
    assert_eq!(server.page().at, 1);
}
