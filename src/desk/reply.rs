//! What goes back to the browser.

use super::call::Call;
use super::frame;
use crate::trouble::Trouble;
use maud::Markup;

/// What may run and be loaded in what is answered (CSP Level 3).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// One of our pages: our own files, nothing else.
    Page,
    /// A printed page of the record, shown inside one of ours: its own styles, no script, no address.
    Printed,
}

impl Policy {
    /// The header's value.
    pub fn text(self) -> &'static str {
        match self {
            Policy::Page => {
                "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
                 connect-src 'self'; frame-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'self'"
            }
            Policy::Printed => {
                "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'none'; base-uri 'none'; \
                 frame-ancestors 'self'; sandbox allow-modals allow-same-origin"
            }
        }
    }
}

/// What is answered.
#[derive(Debug)]
pub struct Reply {
    /// HTTP status.
    pub status: u16,
    /// Type of the bytes.
    pub mime: &'static str,
    /// The bytes.
    pub body: Vec<u8>,
    /// Where the browser is to go instead.
    pub to: Option<String>,
    /// Name under which the browser keeps it.
    pub file_name: Option<String>,
    /// What may run in it.
    pub policy: Policy,
    /// A cookie to set; empty text takes it back.
    pub cookie: Option<String>,
    /// After so many seconds the browser asks for the same page again.
    pub again: Option<u64>,
}

impl Reply {
    fn new(status: u16, mime: &'static str, body: Vec<u8>) -> Reply {
        Reply {
            status,
            mime,
            body,
            to: None,
            file_name: None,
            policy: Policy::Page,
            cookie: None,
            again: None,
        }
    }

    /// A page of ours, within the frame that all have. `title` is a key of the catalogue: a title tells which
    /// kind of page it is and never of whom.
    pub fn page(call: &Call<'_>, title: &str, main: Markup) -> Reply {
        Reply::whole(frame::page(call, title, &main))
    }

    /// A page without the frame: nothing leads elsewhere from it. For what a patient is given to read.
    pub fn bare(call: &Call<'_>, title: &str, main: Markup) -> Reply {
        Reply::whole(frame::bare(call, title, &main))
    }

    fn whole(page: Markup) -> Reply {
        Reply::new(200, "text/html; charset=utf-8", page.into_string().into_bytes())
    }

    /// A printed page of the record, for a frame within one of our pages.
    pub fn printed(html: impl Into<Vec<u8>>) -> Reply {
        Reply { policy: Policy::Printed, ..Reply::new(200, "text/html; charset=utf-8", html.into()) }
    }

    /// The browser goes to another page of ours.
    pub fn to(address: impl Into<String>) -> Reply {
        Reply { to: Some(address.into()), ..Reply::new(303, "text/plain; charset=utf-8", Vec::new()) }
    }

    /// A file to be kept by the browser.
    pub fn file(name: impl Into<String>, mime: &'static str, bytes: Vec<u8>) -> Reply {
        Reply { file_name: Some(name.into()), ..Reply::new(200, mime, bytes) }
    }

    /// Something our own pages show or load.
    pub fn bytes(mime: &'static str, bytes: impl Into<Vec<u8>>) -> Reply {
        Reply::new(200, mime, bytes.into())
    }

    /// Done, and nothing to show.
    pub fn nothing() -> Reply {
        Reply::new(204, "text/plain; charset=utf-8", Vec::new())
    }

    /// The same with another HTTP status.
    pub fn status(mut self, status: u16) -> Reply {
        self.status = status;
        self
    }

    /// The same for a page that comes back with what was wrong on it: 409 where something was.
    pub fn conflicts(self, trouble: Option<&Trouble>) -> Reply {
        if trouble.is_some() { self.status(409) } else { self }
    }

    /// The same, asked for again by the browser after some seconds, also without scripts.
    pub fn again_in(mut self, seconds: u64) -> Reply {
        self.again = Some(seconds);
        self
    }
}
