//! Drives a headless Chromium by its `DevTools` protocol.

use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};
use tempfile::TempDir;
use tungstenite::{Message, WebSocket};

use crate::skipped::skipped;

/// Names under which Chromium is installed. The first has no windows at all, and starts in a quarter of the
/// time.
const NAMES: [&str; 5] = [
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
    "google-chrome",
    "chrome",
];
/// Longest wait for an answer.
const PATIENCE: Duration = Duration::from_secs(60);
/// Longest wait for the browser's end.
const FAREWELL: Duration = Duration::from_secs(5);

/// A browser with one page.
pub struct Browser {
    process: Child,
    socket: WebSocket<TcpStream>,
    session: String,
    number: u64,
    /// Errors that the page has reported.
    pub complaints: Vec<String>,
    /// Requests that went anywhere but to the file itself.
    pub requests: Vec<String>,
    _home: TempDir,
}

/// Where Chromium is, if it is.
fn program() -> Option<PathBuf> {
    let named = std::env::var_os("BENDWISE_BROWSER").map(PathBuf::from);
    let path = std::env::var_os("PATH")?;
    let folders: Vec<PathBuf> = std::env::split_paths(&path).collect();
    let found = NAMES
        .iter()
        .flat_map(|name| folders.iter().map(move |folder| folder.join(name)));
    named.into_iter().chain(found).find(|file| file.is_file())
}

impl Browser {
    /// A browser whose window has this size; `None`, said loudly, where there is none.
    pub fn start(width: u32, height: u32) -> Option<Self> {
        let Some(program) = program() else {
            skipped(
                "no Chromium on this machine; install the package chromium or set BENDWISE_BROWSER",
            );
            return None;
        };
        let home = tempfile::tempdir().expect("a folder");
        let mut process = Command::new(program)
            .args([
                "--headless=new",
                "--no-sandbox",
                "--no-first-run",
                "--disable-extensions",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-gpu-compositing",
                "--use-angle=swiftshader",
                "--enable-unsafe-swiftshader",
                "--remote-debugging-port=0",
            ])
            .arg(format!("--window-size={width},{height}"))
            .arg(format!("--user-data-dir={}", home.path().display()))
            .arg("about:blank")
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("Chromium starts");
        let said = BufReader::new(process.stderr.take().expect("standard error"));
        let mut lines = said.lines().map_while(Result::ok);
        let address = lines
            .find_map(|line| {
                line.strip_prefix("DevTools listening on ")
                    .map(str::to_owned)
            })
            .expect("Chromium says where it listens");
        // What it says later is read, so that it never waits for a reader.
        std::thread::spawn(move || lines.for_each(drop));
        let host = address
            .trim_start_matches("ws://")
            .split('/')
            .next()
            .expect("a host");
        let stream = TcpStream::connect(host).expect("Chromium answers");
        stream.set_read_timeout(Some(PATIENCE)).expect("a limit");
        let (socket, _) = tungstenite::client(address.as_str(), stream).expect("a socket");
        let mut browser = Self {
            process,
            socket,
            session: String::new(),
            number: 0,
            complaints: Vec::new(),
            requests: Vec::new(),
            _home: home,
        };
        let target = browser.command("Target.createTarget", &json!({"url": "about:blank"}));
        let target = json!({"targetId": target["targetId"], "flatten": true});
        let attached = browser.command("Target.attachToTarget", &target);
        browser.session = attached["sessionId"]
            .as_str()
            .expect("a session")
            .to_owned();
        for domain in ["Page", "Runtime", "Log", "Network"] {
            browser.command(&format!("{domain}.enable"), &json!({}));
        }
        browser.command("Performance.enable", &json!({"timeDomain": "threadTicks"}));
        browser.resize(width, height);
        Some(browser)
    }

    /// Gives the page another size.
    pub fn resize(&mut self, width: u32, height: u32) {
        let size =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.command("Emulation.setDeviceMetricsOverride", &size);
    }

    /// Shows the page as on a screen or as on paper: "screen" or "print".
    pub fn media(&mut self, name: &str) {
        self.command("Emulation.setEmulatedMedia", &json!({"media": name}));
    }

    /// Opens a file and waits until it is loaded; returns how long that took.
    pub fn open(&mut self, file: &Path) -> Duration {
        self.open_address(&format!("file://{}", file.display()))
    }

    /// Opens an address and waits until its page, not the one before it, is there; returns how long that took.
    pub fn open_address(&mut self, url: &str) -> Duration {
        let begun = Instant::now();
        self.command("Page.navigate", &json!({"url": url}));
        let state = json!({"expression": "document.readyState + location.href"});
        let complete = json!(format!("complete{url}"));
        // The page before it may still answer, or be just gone.
        while !(self.ask("Runtime.evaluate", &state))
            .is_ok_and(|answer| answer["result"]["value"] == complete)
        {
            assert!(begun.elapsed() < PATIENCE, "{url} does not load");
            std::thread::sleep(Duration::from_millis(20));
        }
        begun.elapsed()
    }

    /// Opens a file that plays trials, and waits until it is ready to; returns how long the page and how long
    /// the player took.
    pub fn open_player(&mut self, file: &Path) -> (Duration, Duration) {
        let opened = self.open(file);
        let begun = Instant::now();
        while self.eval("typeof bendwisePlayer") != json!("object") {
            assert!(begun.elapsed() < PATIENCE, "the player does not start");
            std::thread::sleep(Duration::from_millis(20));
        }
        (opened, opened + begun.elapsed())
    }

    /// Processor time in s that the page's own thread has used so far.
    pub fn used_s(&mut self) -> f64 {
        let answer = self.command("Performance.getMetrics", &json!({}));
        let metrics = answer["metrics"].as_array().cloned().unwrap_or_default();
        let task = metrics.iter().find(|m| m["name"] == "TaskDuration");
        task.and_then(|m| m["value"].as_f64()).expect("a time")
    }

    /// The value of an expression in the page; promises are waited for.
    pub fn eval(&mut self, script: &str) -> Value {
        let asked = json!({"expression": script, "awaitPromise": true, "returnByValue": true});
        let answer = self.command("Runtime.evaluate", &asked);
        assert!(
            answer.get("exceptionDetails").is_none(),
            "{script}: {answer}"
        );
        answer["result"]["value"].clone()
    }

    /// A count that an expression in the page gives.
    pub fn count(&mut self, script: &str) -> usize {
        let value = self.eval(script);
        let count = value.as_u64().and_then(|count| usize::try_from(count).ok());
        count.unwrap_or_else(|| panic!("{script} is {value}, no count"))
    }

    /// A number in the page.
    pub fn number(&mut self, script: &str) -> f64 {
        let value = self.eval(script);
        value
            .as_f64()
            .unwrap_or_else(|| panic!("{script} is {value}"))
    }

    /// Presses a key: its name, its code on the keyboard, and what it writes.
    pub fn press(&mut self, key: &str, code: u32, text: &str) {
        for kind in ["keyDown", "keyUp"] {
            let mut event =
                json!({"type": kind, "key": key, "code": key, "windowsVirtualKeyCode": code});
            if kind == "keyDown" && !text.is_empty() {
                event["text"] = json!(text);
            }
            self.command("Input.dispatchKeyEvent", &event);
        }
    }

    /// Keeps a picture of what is seen, for whoever wants to look at it.
    pub fn picture(&mut self, name: &str) -> Vec<u8> {
        let taken = self.command("Page.captureScreenshot", &json!({"format": "png"}));
        self.keep(&format!("{name}.png"), &taken)
    }

    /// Keeps the page as it is printed.
    pub fn print(&mut self, name: &str) -> Vec<u8> {
        let printed = self.command("Page.printToPDF", &json!({"preferCSSPageSize": true}));
        self.keep(&format!("{name}.pdf"), &printed)
    }

    fn keep(&self, name: &str, answer: &Value) -> Vec<u8> {
        let bytes = STANDARD
            .decode(answer["data"].as_str().expect("data"))
            .expect("base64");
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pages");
        std::fs::create_dir_all(&folder).expect("a folder");
        std::fs::write(folder.join(name), &bytes).expect("kept");
        bytes
    }

    /// Asks, and returns the answer.
    fn command(&mut self, method: &str, params: &Value) -> Value {
        self.ask(method, params)
            .unwrap_or_else(|error| panic!("{method}: {error}"))
    }

    /// Asks, and returns the answer or the error; what the page reports in the meantime is kept.
    fn ask(&mut self, method: &str, params: &Value) -> Result<Value, String> {
        self.number += 1;
        let number = self.number;
        let mut asked = json!({"id": number, "method": method, "params": params});
        if !self.session.is_empty() {
            asked["sessionId"] = json!(self.session);
        }
        self.socket
            .send(Message::text(asked.to_string()))
            .expect("sent");
        loop {
            let message = self
                .socket
                .read()
                .unwrap_or_else(|e| panic!("{method}: {e}"));
            let Ok(text) = message.to_text() else {
                continue;
            };
            let Ok(said) = serde_json::from_str::<Value>(text) else {
                continue;
            };
            if said["id"] == json!(number) {
                return match said.get("error") {
                    Some(error) => Err(error.to_string()),
                    None => Ok(said["result"].clone()),
                };
            }
            self.take_note(&said);
        }
    }

    fn take_note(&mut self, said: &Value) {
        let params = &said["params"];
        match said["method"].as_str().unwrap_or_default() {
            "Runtime.exceptionThrown" => self.complaints.push(params.to_string()),
            "Runtime.consoleAPICalled"
                if params["type"] == "error" || params["type"] == "warning" =>
            {
                self.complaints.push(params.to_string());
            }
            "Log.entryAdded" if params["entry"]["level"] == "error" => {
                self.complaints.push(params.to_string());
            }
            "Network.requestWillBeSent" => {
                let url = params["request"]["url"].as_str().unwrap_or_default();
                if !url.starts_with("file:") && !url.starts_with("data:") && url != "about:blank" {
                    self.requests.push(url.to_owned());
                }
            }
            _ => {}
        }
    }

    /// Fails where the page has reported an error or asked for anything from outside.
    pub fn expect_quiet(&mut self) {
        self.eval("new Promise((done) => setTimeout(done, 50))");
        assert!(self.complaints.is_empty(), "{:?}", self.complaints);
        assert!(self.requests.is_empty(), "{:?}", self.requests);
    }
}

impl Drop for Browser {
    /// Asks the browser to end: its helper processes outlive it where it is killed.
    fn drop(&mut self) {
        let close = json!({"id": self.number + 1, "method": "Browser.close"});
        let asked = self.socket.send(Message::text(close.to_string()));
        let begun = Instant::now();
        while asked.is_ok() && begun.elapsed() < FAREWELL {
            if !matches!(self.process.try_wait(), Ok(None)) {
                return;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
