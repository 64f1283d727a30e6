//! The server of a session, or of the sessions of a lesson: it listens on this machine alone, and talks to
//! one page at a time.
//!
//! A page that is opened later takes the session over, so a tab that was closed or lost stands in
//! nobody's way. The state is the engine's: a page that comes back is told everything anew.

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use axum::Router;
use axum::extract::ws::{Message, WebSocket, WebSocketUpgrade};
use axum::extract::{Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use serde::Deserialize;
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::sync::{mpsc, watch};

use super::compare::compare;
use super::engine::{Ask, Engine, Worked};
use super::guard::{From, Guard};
use super::session::Session;

/// Longest message of a page in bytes.
const LONGEST_MESSAGE: usize = 512;
/// How often a page is told how far the movements that are made again have come.
const TELL_EVERY: Duration = Duration::from_millis(200);
/// How often it is looked whether to stop.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// What is read by a browser, with its type.
const PAGE: [(&str, &str, &str); 7] = [
    (
        "",
        "text/html; charset=utf-8",
        include_str!("page/page.html"),
    ),
    (
        "page.css",
        "text/css; charset=utf-8",
        include_str!("page/page.css"),
    ),
    (
        "numbers.js",
        "text/javascript; charset=utf-8",
        include_str!("../report/web/assets/numbers.js"),
    ),
    (
        "view3d.js",
        "text/javascript; charset=utf-8",
        include_str!("../report/web/assets/view3d.js"),
    ),
    (
        "marks.css",
        "text/css; charset=utf-8",
        include_str!("../report/web/assets/marks.css"),
    ),
    (
        "marks.js",
        "text/javascript; charset=utf-8",
        include_str!("../report/web/assets/marks.js"),
    ),
    (
        "page.js",
        "text/javascript; charset=utf-8",
        include_str!("page/page.js"),
    ),
];

/// What a browser may do with the page: use what this server gives, be shown in no other page, and tell
/// nobody its address.
const HEADERS: [(header::HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; \
         frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
    ),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (
        header::HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
];

/// Why a session is not served.
#[derive(Debug, Error)]
pub enum LiveError {
    /// The port cannot be had.
    #[error(
        "port {port} of this machine cannot be listened on: {cause}; give another --port, or none"
    )]
    Port {
        /// The port.
        port: u16,
        /// What the system says.
        cause: io::Error,
    },
    /// Something else of the system.
    #[error("the page cannot be served: {0}")]
    System(#[from] io::Error),
}

/// A session that is served, once it listens.
#[derive(Debug)]
pub struct Served {
    /// The address to open in a browser of this machine.
    pub address: String,
}

/// A session to be served: the only one, or that of a page of a lesson.
#[derive(Debug)]
pub struct Stop {
    /// What is worked.
    pub worked: Worked,
    /// Its movements.
    pub session: Session,
    /// What the page of the lesson is called; empty outside of a lesson.
    pub title: String,
    /// What it says, as markup of this program; empty outside of a lesson.
    pub text: String,
}

/// A session that is worked.
struct Running {
    worked: Worked,
    engine: Engine,
    title: String,
    text: String,
}

/// What a page says.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum Said {
    /// Make the movement of a line, or go back, at a moment with so many movements.
    Move { line: String, at: usize },
    /// Show the moment after so many movements again.
    Look(usize),
    /// Take the trial as ended.
    Finish,
    /// Run the techniques of the study on this draw.
    Compare,
    /// Turn to a page of the lesson, counted from 0.
    Page(usize),
}

struct Shared {
    /// The sessions, one for each page.
    running: Vec<Running>,
    /// Number of the one that is worked.
    at: AtomicUsize,
    guard: Guard,
    /// Whether techniques are being run.
    compares: Arc<AtomicBool>,
    /// Number of the page that has the session; 0 once the server stops.
    owner: watch::Sender<u64>,
}

/// Serves sessions, of which there is at least one, until `stop` is raised; `port` 0 is any that is free. `listening` is told the address.
///
/// # Errors
/// [`LiveError`].
pub fn serve(
    stops: Vec<Stop>,
    port: u16,
    stop: &AtomicBool,
    listening: impl FnOnce(&Served),
) -> Result<(), LiveError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    runtime.block_on(async {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
        let listener = TcpListener::bind(address)
            .await
            .map_err(|cause| LiveError::Port { port, cause })?;
        let guard = Guard::new(listener.local_addr()?);
        let served = Served {
            address: guard.address(),
        };
        let running = stops.into_iter().map(|own| {
            Ok(Running {
                engine: Engine::start(own.worked.clone(), own.session)?,
                worked: own.worked,
                title: own.title,
                text: own.text,
            })
        });
        let shared = Arc::new(Shared {
            running: running.collect::<io::Result<_>>()?,
            at: AtomicUsize::new(0),
            guard,
            compares: Arc::default(),
            owner: watch::Sender::new(1),
        });
        listening(&served);
        let serving =
            tokio::spawn(axum::serve(listener, router(Arc::clone(&shared))).into_future());
        while !stop.load(Ordering::SeqCst) && !serving.is_finished() {
            tokio::time::sleep(LOOK_EVERY).await;
        }
        // The page is told, and has a moment to hear it.
        shared.owner.send_replace(0);
        tokio::time::sleep(LOOK_EVERY).await;
        serving.abort();
        Ok(())
    })
}

fn router(shared: Arc<Shared>) -> Router {
    let mut router = Router::new().route("/{token}/socket", get(socket));
    for (name, kind, text) in PAGE {
        let file = move || async move { ([(header::CONTENT_TYPE, kind)], text) };
        router = router.route(&format!("/{{token}}/{name}"), get(file));
    }
    router
        .layer(middleware::from_fn_with_state(Arc::clone(&shared), guarded))
        .with_state(shared)
}

/// Lets a request in or refuses it, and tells the browser what it may do with the answer.
async fn guarded(State(shared): State<Arc<Shared>>, request: Request, next: Next) -> Response {
    let mut response = match refusal(&shared.guard, &request) {
        Some(why) => (StatusCode::FORBIDDEN, format!("{why}\n")).into_response(),
        None => next.run(request).await,
    };
    for (name, value) in HEADERS {
        response
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    response
}

/// Why a request is refused; `None` for one that is let in.
fn refusal(guard: &Guard, request: &Request) -> Option<&'static str> {
    let path = request.uri().path();
    let headers = request.headers();
    let host = headers.get(header::HOST);
    // An origin that is there and no text is somebody else's.
    let origin = headers.get(header::ORIGIN);
    let from = From {
        token: path.split('/').nth(1).unwrap_or(""),
        host: host.and_then(|value| value.to_str().ok()),
        origin: origin.map(|value| value.to_str().unwrap_or("")),
    };
    guard.refusal(from, path.ends_with("/socket"))
}

async fn socket(State(shared): State<Arc<Shared>>, upgrade: WebSocketUpgrade) -> Response {
    upgrade
        .max_message_size(LONGEST_MESSAGE)
        .max_frame_size(LONGEST_MESSAGE)
        .on_upgrade(|socket| talk(socket, shared))
}

/// Sends a text; false where the page is gone.
async fn say(socket: &mut WebSocket, text: String) -> bool {
    socket.send(Message::Text(text.into())).await.is_ok()
}

/// Talks to a page until it goes, or another one takes over.
async fn talk(mut socket: WebSocket, shared: Arc<Shared>) {
    let mut mine = 0;
    shared.owner.send_modify(|owner| {
        if *owner > 0 {
            *owner += 1;
        }
        mine = *owner;
    });
    let mut owner = shared.owner.subscribe();
    let (mut sender, mut rows) = mpsc::unbounded_channel();
    if !greet(&mut socket, &shared).await {
        return;
    }
    loop {
        let now = *owner.borrow_and_update();
        if now != mine {
            let why = if now == 0 {
                "the program has ended"
            } else {
                "the session is open in another tab"
            };
            say(&mut socket, serde_json::json!({ "gone": why }).to_string()).await;
            let _ = socket.send(Message::Close(None)).await;
            return;
        }
        let answer = tokio::select! {
            biased;
            changed = owner.changed() => match changed {
                Ok(()) => continue,
                Err(_) => return,
            },
            Some(row) = rows.recv() => row,
            message = socket.recv() => match message {
                Some(Ok(Message::Text(text))) => {
                    if let Ok(Said::Page(to)) = serde_json::from_str(&text) {
                        if to < shared.running.len() {
                            shared.at.store(to, Ordering::SeqCst);
                        }
                        // Rows of the page before are nobody's any more.
                        (sender, rows) = mpsc::unbounded_channel();
                        if !greet(&mut socket, &shared).await {
                            return;
                        }
                        continue;
                    }
                    let Some(answer) = answer(&shared, &mut socket, &text, &sender).await else {
                        continue;
                    };
                    answer
                }
                Some(Ok(Message::Ping(_) | Message::Pong(_))) => continue,
                Some(Ok(Message::Binary(_) | Message::Close(_)) | Err(_)) | None => return,
            },
        };
        if !say(&mut socket, answer).await {
            return;
        }
    }
}

/// Tells a page where in the lesson it is, if there is one, and everything of the session; false where the
/// page is gone.
async fn greet(socket: &mut WebSocket, shared: &Shared) -> bool {
    let own = shared.own();
    if !own.text.is_empty() {
        let titles: Vec<&str> = shared.running.iter().map(|r| r.title.as_str()).collect();
        let at = shared.at.load(Ordering::SeqCst);
        let lesson = serde_json::json!({ "at": at, "titles": titles, "text": own.text });
        if !say(socket, serde_json::json!({ "lesson": lesson }).to_string()).await {
            return false;
        }
    }
    match asked(socket, &own.engine, Ask::Hello).await {
        Some(hello) => say(socket, hello).await,
        None => false,
    }
}

/// Asks the engine; the page is told meanwhile how far the kept movements have been made again, and is shown them.
async fn asked(socket: &mut WebSocket, engine: &Engine, ask: Ask) -> Option<String> {
    let mut answer = std::pin::pin!(engine.ask(ask));
    let mut is_new = true;
    loop {
        tokio::select! {
            biased;
            answer = &mut answer => return answer,
            () = tokio::time::sleep(TELL_EVERY) => {
                if let Some(told) = engine.replaying(is_new) {
                    say(socket, told).await;
                    is_new = false;
                }
            }
        }
    }
}

impl Shared {
    /// The session that is worked.
    fn own(&self) -> &Running {
        &self.running[self.at.load(Ordering::SeqCst)]
    }
}

/// The answer to what a page says, if there is one.
async fn answer(
    shared: &Shared,
    socket: &mut WebSocket,
    text: &str,
    rows: &mpsc::UnboundedSender<String>,
) -> Option<String> {
    let refused = |why: String| serde_json::json!({ "refused": why }).to_string();
    match serde_json::from_str(text) {
        Err(_) | Ok(Said::Page(_)) => {
            Some(refused("the message is none of this page's".to_owned()))
        }
        Ok(Said::Move { line, at }) => {
            asked(socket, &shared.own().engine, Ask::Line { line, at }).await
        }
        Ok(Said::Look(at)) => asked(socket, &shared.own().engine, Ask::Look(at)).await,
        Ok(Said::Finish) => {
            let engine = &shared.own().engine;
            let row = engine.ask(Ask::Finish).await?;
            // The movements are made again after that, so that an earlier moment can be shown.
            if say(socket, row).await {
                asked(socket, engine, Ask::Hello).await
            } else {
                None
            }
        }
        Ok(Said::Compare) => match compare(&shared.own().worked, rows.clone(), &shared.compares) {
            Ok(()) => None,
            Err(cause) => Some(refused(cause.to_string())),
        },
    }
}
