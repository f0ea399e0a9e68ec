//! What a browser, or a program that poses as one, sends to the page: headers and a form. A head of lines, an empty
//! line, and the body.

use axum::body::Body;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Request};
use inkfast::desk::guard::{calls_us, cookie, from_our_page};
use inkfast::desk::server::given;
use std::pin::pin;
use std::task::{Context, Poll, Waker};

/// Tries one input.
pub fn try_one(bytes: &[u8]) {
    let cut = bytes.windows(2).position(|two| two == b"\n\n").unwrap_or(bytes.len());
    let (head, body) = (&bytes[..cut], bytes.get(cut + 2..).unwrap_or_default());
    let mut lines = head.split(|byte| *byte == b'\n');
    let address = lines.next().and_then(|line| std::str::from_utf8(line).ok()).unwrap_or("/");
    let mut headers = HeaderMap::new();
    for line in lines.take(40) {
        let (name, value) = line.split_at(line.iter().position(|byte| *byte == b':').unwrap_or(line.len()));
        let value = value.strip_prefix(b": ").unwrap_or_default();
        if let (Ok(name), Ok(value)) = (HeaderName::from_bytes(name), HeaderValue::from_bytes(value)) {
            headers.append(name, value);
        }
    }
    if calls_us(&headers, 4711) {
        let host = headers.get("host").unwrap();
        assert!(host == "127.0.0.1:4711" || host == "localhost:4711", "{host:?}");
    }
    if let Some(origin) = headers.get("origin").and_then(|origin| origin.to_str().ok())
        && from_our_page(&headers, 4711)
    {
        assert!(origin == "http://127.0.0.1:4711" || origin == "http://localhost:4711", "{origin}");
    }
    let _ = cookie(&headers);
    for looks in [false, true] {
        let Ok(mut request) = Request::builder().uri(address).body(Body::from(body.to_vec())) else { return };
        *request.headers_mut() = headers.clone();
        if let Some(given) = at_once(given("/room/{slot}/{what}", looks, request)) {
            assert_eq!(given.looks, looks);
            assert!(given.params.len() <= 2 && given.typed().len() <= given.fields.len());
        }
    }
}

/// All of the body is here already, so nothing has to be waited for.
fn at_once<T>(work: impl Future<Output = T>) -> T {
    let mut work = pin!(work);
    for _ in 0..100_000 {
        if let Poll::Ready(done) = work.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
            return done;
        }
    }
    panic!("it waits for something that never comes");
}
