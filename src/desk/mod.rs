//! The page: what the room, the desk and the audit see in a browser on the practice's own computer.
//!
//! It is one more caller of the commands and of [`crate::practice`]; no rule of the trade lives here. What is
//! written goes through the same commands as at a terminal ([`run`]), in this process, so that the page and the
//! command line can't come apart. Pages are made whole on this side ([`maud`]) and work without scripts; the
//! few scripts only help the hand. Nothing that tells of a patient stands in an address, a title or a cache:
//! charts are named in addresses by random words that one visitor's session knows ([`visitor`]).
//!
//! [`server`] answers, [`guard`] decides who is answered and under which headers, [`lid`] notices that the
//! computer slept, [`catalogue`] holds every word of the pages in each language.

pub mod asks;
pub mod audit;
pub mod call;
pub mod catalogue;
mod consent;
pub mod enter;
pub mod frame;
pub mod front;
pub mod guard;
pub mod home;
mod lid;
pub mod own;
pub mod pipe;
pub mod reply;
mod room;
pub mod run;
pub mod server;
pub mod spoken;
pub mod terms;
pub mod visitor;

pub use call::Call;
pub use reply::Reply;
pub use server::{Order, serve};

use crate::trouble::Outcome;

/// What answers a call: a plain function, run on a thread of its own, one at a time.
pub type Handler = fn(&Call<'_>) -> Outcome<Reply>;

/// How a page is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Looking: changes nothing but the record of having looked.
    Get,
    /// Doing: carries the word that only our own pages know.
    Post,
}

/// Who may call a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Door {
    /// Any browser on this computer: the page that says how to get in.
    Open,
    /// A browser that came in by a link; nobody need be unlocked.
    Entered,
    /// A browser in which somebody is unlocked.
    Unlocked,
}

/// One address and what answers it.
#[derive(Debug, Clone, Copy)]
pub struct Route {
    /// How it is asked for.
    pub method: Method,
    /// The address; `{slot}` stands for a random word.
    pub path: &'static str,
    /// Who may call it.
    pub door: Door,
    /// Whether a call counts as work, which restarts the idle time.
    pub counts: bool,
    /// Whether it may be called from a screen that was turned to the patient.
    pub for_patient: bool,
    /// Whether a script of the page sends it, and not a hand.
    pub background: bool,
    /// What answers.
    pub handler: Handler,
}

impl Route {
    const fn new(method: Method, path: &'static str, handler: Handler) -> Route {
        Route {
            method,
            path,
            door: Door::Unlocked,
            counts: true,
            background: false,
            for_patient: false,
            handler,
        }
    }

    /// A page that an unlocked visitor looks at.
    pub const fn get(path: &'static str, handler: Handler) -> Route {
        Route::new(Method::Get, path, handler)
    }

    /// Something that an unlocked visitor does.
    pub const fn post(path: &'static str, handler: Handler) -> Route {
        Route::new(Method::Post, path, handler)
    }

    /// The same for other callers.
    pub const fn door(mut self, door: Door) -> Route {
        self.door = door;
        self
    }

    /// The same, also from a screen that was turned to the patient.
    pub const fn for_patient(mut self) -> Route {
        self.for_patient = true;
        self
    }

    /// The same, sent by a page's script while somebody types: when it comes too late it is not kept to be sent again.
    pub const fn in_background(mut self) -> Route {
        self.background = true;
        self
    }

    /// The same, asked for by a page on its own: the idle time goes on.
    pub const fn by_itself(mut self) -> Route {
        self.counts = false;
        self
    }
}

/// Every address of the page, one list for each family of pages.
pub fn routes() -> impl Iterator<Item = &'static Route> {
    [enter::ROUTES, own::ROUTES, home::ROUTES, room::ROUTES, consent::ROUTES]
        .into_iter()
        .flatten()
        .chain(front::routes())
        .chain(audit::routes())
}

/// One entry of the list of places at the head of each page: its address and the key of its word.
pub const PLACES: &[(&str, &str)] = &[
    ("/", "place-today"),
    ("/room", "room-title"),
    ("/charts", "desk-place-charts"),
    ("/requests", "desk-place-requests"),
    ("/day", "desk-place-day"),
    ("/office", "desk-place-office"),
    ("/audit", "audit-place"),
];
