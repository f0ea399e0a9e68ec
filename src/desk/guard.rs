//! Who is answered, and under which headers.
//!
//! Only callers that name this computer's own address are answered, so that no foreign name can be pointed at
//! it (DNS rebinding); what changes something must come from one of our own pages. Nothing that is answered may be
//! kept in a cache, shown in a foreign frame, or name in a foreign log the page it was called from.

use super::reply::Reply;
use super::visitor::same;
use axum::body::Body;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HOST, LOCATION, ORIGIN,
    REFERRER_POLICY, SET_COOKIE, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Response, StatusCode};

/// Name of the cookie.
pub const COOKIE: &str = "inkfast";

/// True when the caller names this computer's own address and our port.
pub fn calls_us(headers: &HeaderMap, port: u16) -> bool {
    let ours = [format!("127.0.0.1:{port}"), format!("localhost:{port}")];
    headers.get(HOST).and_then(|host| host.to_str().ok()).is_some_and(|host| ours.iter().any(|o| o == host))
}

/// True when the browser does not say that another site's page sends this.
pub fn from_our_page(headers: &HeaderMap, port: u16) -> bool {
    let said = |name: &HeaderName| headers.get(name).and_then(|v| v.to_str().ok());
    let ours = [format!("http://127.0.0.1:{port}"), format!("http://localhost:{port}")];
    let origin = said(&ORIGIN).is_none_or(|origin| ours.iter().any(|o| o == origin));
    let site = said(&HeaderName::from_static("sec-fetch-site"));
    origin && site.is_none_or(|site| ["same-origin", "none"].contains(&site))
}

/// The word in our cookie.
pub fn cookie(headers: &HeaderMap) -> Option<String> {
    let all = headers.get_all(axum::http::header::COOKIE);
    let pairs = all.iter().filter_map(|v| v.to_str().ok()).flat_map(|text| text.split(';'));
    pairs
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE)
        .map(|(_, v)| v.to_string())
}

/// True when a form carries the word of its browser.
pub fn carries(form_word: &str, given: Option<&str>) -> bool {
    given.is_some_and(|given| same(form_word, given))
}

/// A reply with the headers all have.
pub fn dressed(reply: Reply) -> Response<Body> {
    let mut answer = Response::new(Body::from(reply.body));
    *answer.status_mut() = StatusCode::from_u16(reply.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let headers = answer.headers_mut();
    let mut put = |name: HeaderName, value: &str| {
        if let Ok(value) = HeaderValue::from_str(value) {
            headers.append(name, value);
        }
    };
    put(CONTENT_TYPE, reply.mime);
    put(CACHE_CONTROL, "no-store");
    put(CONTENT_SECURITY_POLICY, reply.policy.text());
    put(X_CONTENT_TYPE_OPTIONS, "nosniff");
    put(X_FRAME_OPTIONS, "SAMEORIGIN");
    // Nothing for others; to ourselves, so that the browser names our own page as the origin of our forms.
    put(REFERRER_POLICY, "same-origin");
    put(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    put(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    put(
        HeaderName::from_static("permissions-policy"),
        "camera=(), microphone=(), geolocation=(), usb=(), serial=(), bluetooth=(), payment=()",
    );
    if let Some(to) = reply.to {
        put(LOCATION, &to);
    }
    if let Some(name) = reply.file_name {
        let plain: String =
            name.chars().filter(|c| c.is_ascii_alphanumeric() || "-_.".contains(*c)).collect();
        put(CONTENT_DISPOSITION, &format!("attachment; filename=\"{plain}\""));
    }
    if let Some(cookie) = reply.cookie {
        let ends = if cookie.is_empty() { "; Max-Age=0" } else { "" };
        put(SET_COOKIE, &format!("{COOKIE}={cookie}; Path=/; HttpOnly; SameSite=Strict{ends}"));
    }
    if let Some(again) = reply.again {
        put(HeaderName::from_static("refresh"), &again.to_string());
    }
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &str)]) -> HeaderMap {
        pairs.iter().map(|(n, v)| (HeaderName::from_static(n), HeaderValue::from_str(v).unwrap())).collect()
    }

    #[test]
    fn a_foreign_name_or_page_is_not_answered() {
        assert!(calls_us(&headers(&[("host", "127.0.0.1:8417")]), 8417));
        assert!(!calls_us(&headers(&[("host", "somewhere.example:8417")]), 8417));
        assert!(!calls_us(&headers(&[("host", "127.0.0.1:9999")]), 8417));
        assert!(!calls_us(&headers(&[]), 8417));
        assert!(from_our_page(&headers(&[("origin", "http://127.0.0.1:8417")]), 8417));
        assert!(
            from_our_page(&headers(&[]), 8417),
            "a browser that says nothing still needs the form's word"
        );
        for foreign in ["https://somewhere.example", "null", "http://127.0.0.1:9999"] {
            assert!(!from_our_page(&headers(&[("origin", foreign)]), 8417), "{foreign}");
        }
        assert!(!from_our_page(&headers(&[("sec-fetch-site", "cross-site")]), 8417));
    }

    #[test]
    fn our_cookie_is_found_among_others() {
        assert_eq!(cookie(&headers(&[("cookie", "a=1; inkfast=abc; b=2")])).as_deref(), Some("abc"));
        assert_eq!(cookie(&headers(&[("cookie", "xinkfast=abc")])), None);
        assert!(carries("abc", Some("abc")) && !carries("abc", Some("abd")) && !carries("abc", None));
    }
}
