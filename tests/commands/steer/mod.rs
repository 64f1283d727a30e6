//! `bendwise steer`: who is let in, what is kept, and that it replays.

mod browser;
mod keeps;
mod lets_in;
mod speed;

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::{Value, json};
use tungstenite::client::IntoClientRequest;
use tungstenite::{Message, WebSocket};

/// A server of a session, killed when it is dropped.
pub(crate) struct Server {
    child: Child,
    /// Host and port.
    pub(crate) host: String,
    pub(crate) token: String,
}

pub(crate) fn scenario(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name)
}

impl Server {
    /// Serves a shipped scenario with further arguments.
    pub(crate) fn start(name: &str, out: &Path, more: &[&str]) -> Self {
        Self::of("steer", &scenario(name), out, more)
    }

    /// Serves what a command makes of a file.
    pub(crate) fn of(command: &str, file: &Path, out: &Path, more: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_bendwise"))
            .arg(command)
            .arg(file)
            .arg("--out")
            .arg(out)
            .args(more)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let said = child.stdout.take().expect("its standard output");
        let mut lines = BufReader::new(said).lines();
        let address = lines.find_map(|line| {
            let line = line.expect("a line");
            line.trim().strip_prefix("http://").map(str::to_owned)
        });
        let address = address.expect("it says its address");
        // What it says later is read, so that it does not wait.
        std::thread::spawn(move || lines.for_each(drop));
        let mut parts = address.split('/');
        let mut part = || parts.next().expect("a part of the address").to_owned();
        Self {
            child,
            host: part(),
            token: part(),
        }
    }

    /// Address of the page.
    pub(crate) fn address(&self) -> String {
        format!("http://{}/{}/", self.host, self.token)
    }

    /// Tells it that its terminal is closed.
    fn hang_up(&self) {
        let number = self.child.id().to_string();
        let sent = Command::new("kill").args(["-HUP", &number]).status();
        assert!(sent.is_ok_and(|status| status.success()));
    }

    /// Exit status with which it ends by itself.
    fn ends(mut self) -> Option<i32> {
        self.child.wait().expect("it ends").code()
    }

    /// Kills it as a power cut does.
    pub(crate) fn kill(mut self) {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it ends");
    }

    /// Head and body of the answer to a request of these lines.
    fn asked(&self, lines: &[String]) -> String {
        let mut stream = TcpStream::connect(&self.host).expect("it listens");
        stream
            .set_read_timeout(Some(Duration::from_secs(20)))
            .expect("a timeout");
        let text = lines.join("\r\n") + "\r\n\r\n";
        stream.write_all(text.as_bytes()).expect("a request");
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// A socket, as the page opens it.
    pub(crate) fn page(&self) -> Page {
        let socket = self.socket(
            &self.token,
            &self.host,
            Some(&format!("http://{}", self.host)),
        );
        Page::new(socket.expect("the page is let in"))
    }

    /// A socket with another token, host or origin; what was said where it is refused.
    fn socket(
        &self,
        token: &str,
        host: &str,
        origin: Option<&str>,
    ) -> Result<WebSocket<TcpStream>, String> {
        let stream = TcpStream::connect(&self.host).expect("it listens");
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .expect("a timeout");
        let uri = format!("ws://{}/{token}/socket", self.host);
        let mut request = uri.into_client_request().expect("a request");
        let headers = request.headers_mut();
        headers.insert("Host", host.parse().expect("a host"));
        if let Some(origin) = origin {
            headers.insert("Origin", origin.parse().expect("an origin"));
        }
        let opened = tungstenite::client(request, stream);
        opened
            .map(|(socket, _)| socket)
            .map_err(|error| error.to_string())
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A page without a browser.
pub(crate) struct Page {
    socket: WebSocket<TcpStream>,
    /// Which page of a lesson it shows; null outside of one.
    pub(crate) lesson: Value,
    /// What it was told first.
    pub(crate) hello: Value,
    /// Movements so far.
    pub(crate) at: u64,
    /// What it was told while kept movements were made again.
    pub(crate) replaying: Vec<Value>,
}

impl Page {
    fn new(socket: WebSocket<TcpStream>) -> Self {
        let mut page = Self {
            socket,
            lesson: Value::Null,
            hello: Value::Null,
            at: 0,
            replaying: Vec::new(),
        };
        page.greeted();
        page
    }

    /// Hears where it is.
    fn greeted(&mut self) {
        let mut heard = self.hear();
        if heard["lesson"].is_object() {
            self.lesson = heard["lesson"].clone();
            heard = self.hear();
        }
        self.hello = heard["hello"].clone();
        self.at = self.hello["moment"]["at"].as_u64().expect("a moment");
    }

    /// Turns to a page of a lesson.
    pub(crate) fn turn_to(&mut self, number: usize) {
        self.say(&json!({ "page": number }));
        self.greeted();
    }

    /// What it is told next.
    pub(crate) fn hear(&mut self) -> Value {
        loop {
            match self.socket.read().expect("a message") {
                Message::Text(text) => {
                    let said: Value = serde_json::from_str(&text).expect("JSON");
                    // How far kept movements have come.
                    if said["replaying"].is_null() {
                        return said;
                    }
                    self.replaying.push(said["replaying"].clone());
                }
                Message::Ping(_) | Message::Pong(_) => {}
                other => panic!("{other:?}"),
            }
        }
    }

    pub(crate) fn say(&mut self, said: &Value) {
        self.socket
            .send(Message::text(said.to_string()))
            .expect("it is sent");
    }

    /// Makes a movement, or goes back; what it is told then.
    pub(crate) fn make(&mut self, line: &str) -> Value {
        self.say(&json!({ "move": { "line": line, "at": self.at } }));
        let heard = self.hear();
        for told in [&heard["moment"], &heard["hello"]["moment"]] {
            self.at = told["at"].as_u64().unwrap_or(self.at);
        }
        heard
    }
}
