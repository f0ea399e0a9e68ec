//! Listens on this computer's own address and answers, one call at a time.

use super::call::{Call, Given, Upload};
use super::catalogue::Lang;
use super::guard::{calls_us, carries, cookie, dressed, from_our_page};
use super::lid::{LOOK_EVERY, Lid};
use super::visitor::{Visitor, Visitors};
use super::{Door, Method, Reply, Route, enter, frame, routes};
use crate::cli::keeper::guarded::no_dumps;
use crate::cli::keeper::{Held, held, lock, look};
use crate::practice::place::Place;
use crate::trouble::{Kind, Outcome, Trouble};
use crate::world::World;
use axum::Router;
use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Form, FromRequest, Multipart, Query, Request, State};
use axum::http::header::{ACCEPT_LANGUAGE, CONTENT_TYPE};
use axum::http::{HeaderMap, Response};
use axum::routing::{MethodRouter, get, post};
use std::collections::HashMap;
use std::io::BufRead;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// The most bytes a form may bring. Larger papers are attached at the command line, which reads them piece by piece.
const MOST_BYTES: usize = 32 << 20;

/// What to serve, and where.
#[derive(Debug, Clone)]
pub struct Order {
    /// Folder of the store.
    pub root: PathBuf,
    /// Folder outside the store with the newest checkpoint.
    pub outside: PathBuf,
    /// Port on 127.0.0.1; 0 takes any that is free.
    pub port: u16,
    /// Where this is, as entries name it.
    pub station: String,
}

/// The desk while it serves.
pub struct Desk {
    /// What is served.
    pub order: Order,
    /// The seams to the outside.
    pub world: World,
    port: u16,
    visitors: Mutex<Visitors>,
    lid: Lid,
    /// One call is answered at a time, so that no two of them open the store against each other.
    turn: Mutex<()>,
}

impl Desk {
    /// The browsers that came in.
    pub(super) fn visitors(&self) -> MutexGuard<'_, Visitors> {
        self.visitors.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Locks everything when the computer slept: whoever opens the lid again is not known.
    fn mind_the_lid(&self) {
        if self.lid.slept() {
            if let Ok(place) = self.place() {
                lock(&place);
            }
            self.visitors().lock_all();
        }
    }

    /// The place of the store.
    pub(super) fn place(&self) -> Outcome<Place> {
        Place::open(&self.world, &self.order.root, Some(&self.order.outside))
    }

    /// A link that lets one browser in, once.
    fn link(&self) -> Outcome<String> {
        let word = self.visitors().link(&self.world);
        let word = word.map_err(|e| Trouble::disk("get random numbers for", &self.order.root, &e))?;
        Ok(format!("http://127.0.0.1:{}/enter?link={word}", self.port))
    }
}

fn could_not(e: &std::io::Error) -> Trouble {
    let next = match e.kind() {
        std::io::ErrorKind::AddrInUse => {
            "Another program has this port, perhaps another `inkfast desk`. Use that one, or give --port 0."
        }
        _ => "Do it again, or give --port 0.",
    };
    Trouble::new(Kind::Disk, format!("The page could not be served: {e}."), "Nothing was changed.", next)
}

/// Serves until Ctrl-C. `say` is given each link.
///
/// # Errors
/// When the port is taken.
pub fn serve(order: Order, say: &mut dyn FnMut(&str) -> Outcome<()>) -> Outcome<()> {
    // Passphrases pass through this process.
    no_dumps();
    let (world, lid) = (World::real(), Lid::new());
    let listener = std::net::TcpListener::bind(("127.0.0.1", order.port)).map_err(|e| could_not(&e))?;
    let port = listener.local_addr().map_err(|e| could_not(&e))?.port();
    listener.set_nonblocking(true).map_err(|e| could_not(&e))?;
    let desk = Arc::new(Desk { order, world, port, visitors: Mutex::default(), lid, turn: Mutex::new(()) });
    say(&format!(
        "The page is served on this computer only, until Ctrl-C. This link opens it in one browser, once:\n\n  {}\n\n\
         Press Enter here for a further link.",
        desk.link()?
    ))?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .max_blocking_threads(16)
        .enable_all()
        .build();
    let runtime = runtime.map_err(|e| could_not(&e))?;
    let asked = watch_for_enter();
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener).map_err(|e| could_not(&e))?;
        let server = axum::serve(listener, router(&desk));
        let served = tokio::spawn(async move { server.await });
        let mut tick = tokio::time::interval(LOOK_EVERY);
        loop {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => break,
                _ = tick.tick() => {
                    desk.mind_the_lid();
                    while asked.try_recv().is_ok() {
                        say(&format!("\n  {}", desk.link()?))?;
                    }
                    if served.is_finished() {
                        return Err(could_not(&std::io::Error::other("the listener ended")));
                    }
                }
            }
        }
        // A call that is being answered is answered to its end: what it writes is whole or not there.
        drop(desk.turn.lock());
        Ok(())
    })?;
    say("Ended. Who was unlocked stays so until `inkfast lock`, the idle time or the end of the login.")
}

/// A message for each line at the terminal. At its end nothing more comes, and serving goes on.
fn watch_for_enter() -> std::sync::mpsc::Receiver<()> {
    let (tell, asked) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            if line.is_err() || tell.send(()).is_err() {
                break;
            }
        }
    });
    asked
}

fn router(desk: &Arc<Desk>) -> Router {
    let mut by_path: HashMap<&str, MethodRouter<Arc<Desk>>> = HashMap::new();
    for route in routes() {
        let answer = move |State(desk): State<Arc<Desk>>, request: Request| answered(desk, route, request);
        let so_far = by_path.remove(route.path);
        let joined = match (route.method, so_far) {
            (Method::Get, None) => get(answer),
            (Method::Post, None) => post(answer),
            (Method::Get, Some(more)) => more.get(answer),
            (Method::Post, Some(more)) => more.post(answer),
        };
        by_path.insert(route.path, joined);
    }
    let all = by_path.into_iter().fold(Router::new(), |router, (path, answer)| router.route(path, answer));
    let nowhere =
        move |State(desk): State<Arc<Desk>>, request: Request| answered(desk, &enter::NOWHERE, request);
    all.fallback(nowhere).layer(DefaultBodyLimit::max(MOST_BYTES)).with_state(desk.clone())
}

/// Reads the call, then answers it on a thread that may wait for the disk.
async fn answered(desk: Arc<Desk>, route: &'static Route, request: Request) -> Response<Body> {
    let headers = request.headers().clone();
    if !calls_us(&headers, desk.port) {
        return dressed(Reply::bytes("text/plain", "Not here.").status(421));
    }
    if route.method == Method::Post && !from_our_page(&headers, desk.port) {
        return dressed(Reply::bytes("text/plain", "Not from here.").status(403));
    }
    let Some(given) = given(route.path, route.method == Method::Get, request).await else {
        return dressed(Reply::bytes("text/plain", "Too large, or not a form.").status(413));
    };
    let work = tokio::task::spawn_blocking(move || {
        let _turn = desk.turn.lock().unwrap_or_else(PoisonError::into_inner);
        desk.mind_the_lid();
        answer(&desk, route, &headers, given)
    });
    work.await.unwrap_or_else(|_| {
        // The thread ended in the middle. What it had sealed is sealed, and nothing else is.
        dressed(Reply::bytes("text/plain", "This page could not be made. Go back and try again.").status(500))
    })
}

/// What comes with a call of a route of this path; none where it is too large, or not a form. `looks` says that the
/// page is only looked at: then the fields stand in the address.
pub async fn given(route: &str, looks: bool, request: Request) -> Option<Given> {
    let path = request.uri().path().to_string();
    let named = route.split('/').zip(path.split('/'));
    let params = named
        .filter_map(|(name, value)| {
            let name = name.strip_prefix('{')?.strip_suffix('}')?;
            Some((name.to_string(), value.to_string()))
        })
        .collect();
    let mut given = Given { params, path, looks, ..Given::default() };
    let kind = request.headers().get(CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or_default();
    if looks {
        let query = Query::<Vec<(String, String)>>::try_from_uri(request.uri()).ok()?;
        given.fields = query.0;
    } else if kind.starts_with("multipart/form-data") {
        let mut parts = Multipart::from_request(request, &()).await.ok()?;
        while let Some(part) = parts.next_field().await.ok()? {
            let (name, file) = (part.name()?.to_string(), part.file_name().map(str::to_string));
            let bytes = part.bytes().await.ok()?.to_vec();
            match file {
                Some(file) => given.uploads.push((name, Upload { name: file, bytes })),
                None => given.fields.push((name, String::from_utf8(bytes).ok()?)),
            }
        }
    } else {
        given.fields = Form::<Vec<(String, String)>>::from_request(request, &()).await.ok()?.0;
    }
    Some(given)
}

fn answer(desk: &Desk, route: &Route, headers: &HeaderMap, given: Given) -> Response<Body> {
    let visitor = cookie(headers).and_then(|word| desk.visitors().get(&word).cloned());
    let spoken = headers.get(ACCEPT_LANGUAGE).and_then(|v| v.to_str().ok()).unwrap_or_default();
    let lang = visitor.as_ref().and_then(|v| v.lang).unwrap_or_else(|| Lang::accepted(spoken));
    let mut call = Call { desk, given, visitor, lang };
    // What the browser holds may be over: the store is locked, or somebody else is unlocked now.
    let unlocked = still_unlocked(desk, call.visitor.as_ref(), route.counts);
    if !unlocked && let Some(visitor) = call.visitor.as_mut().filter(|v| v.code.is_some()) {
        visitor.lock();
        let _ = call.with_visitor(Visitor::lock);
    }
    let reply = match admitted(&call, route) {
        Some(refused) => refused,
        None if !call.given.looks && route.counts && !route.background => {
            // Whatever waited to be sent is sent now, or something else was chosen instead.
            let _ = call.with_visitor(|visitor| visitor.unsent = None);
            (route.handler)(&call).unwrap_or_else(|trouble| frame::trouble(&call, &trouble))
        }
        None => (route.handler)(&call).unwrap_or_else(|trouble| frame::trouble(&call, &trouble)),
    };
    dressed(reply)
}

/// What is answered instead where the caller may not call this.
fn admitted(call: &Call<'_>, route: &Route) -> Option<Reply> {
    if route.door == Door::Open {
        return None;
    }
    let Some(visitor) = &call.visitor else { return Some(enter::no_way_in(call)) };
    if route.method == Method::Post && !carries(&visitor.form_word, call.field("form-word")) {
        return Some(frame::trouble(call, &stale()).status(403));
    }
    if route.door == Door::Unlocked
        && !route.for_patient
        && visitor.code.is_some()
        && let Some(page) = &visitor.patients_page
    {
        return Some(Reply::to(page.clone()));
    }
    if route.door == Door::Unlocked && visitor.code.is_none() {
        if route.method == Method::Get && route.counts {
            let here = call.given.path.clone();
            let _ = call.with_visitor(|visitor| visitor.back = Some(here));
        }
        if route.method == Method::Post && route.counts && !route.background && !route.for_patient {
            let form = (call.given.path.clone(), call.given.typed());
            let _ = call.with_visitor(|visitor| visitor.unsent = Some(form));
        }
        let locked = if route.method == Method::Get {
            Reply::to("/locked")
        } else {
            enter::locked_page(call).status(403)
        };
        return Some(locked);
    }
    None
}

fn still_unlocked(desk: &Desk, visitor: Option<&Visitor>, counts: bool) -> bool {
    let Some(code) = visitor.and_then(|v| v.code.as_deref()) else { return false };
    let Ok(place) = desk.place() else { return false };
    match counts {
        true => matches!(held(&place), Some(Held::Open(opened)) if opened.me.code == code),
        false => look(&place).is_some_and(|look| look.code == code),
    }
}

fn stale() -> Trouble {
    Trouble::new(
        Kind::Refused,
        "This form is not from a page of this browser, or is from before it was put out.",
        "Nothing was changed.",
        "Open the page again and do it there.",
    )
}
