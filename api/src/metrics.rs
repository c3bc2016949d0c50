//! The figures of operation in the text format of Prometheus, version 0.0.4: how the mail of all clubs
//! fares, in numbers. Nothing here names a person, a club or a mail.

use std::fmt::{self, Write};

use actix_web::{HttpRequest, HttpResponse, get, http::header, web};
use aws_lc_rs::constant_time;
use jiff::Timestamp;
use store::{StoreError, tally::Tally};

use crate::{
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
};

/// The media type of the format.
const TEXT: &str = "text/plain; version=0.0.4; charset=utf-8";

/// How mail and reminders fare, for whoever runs the server: answered to this machine alone or, where a
/// token is set, to whoever shows it as a bearer token. To anybody else there is no such thing.
#[utoipa::path(
    operation_id = "metrics",
    tag = "operation",
    responses((
        status = 200,
        description = "Figures in the text format of Prometheus, version 0.0.4",
        body = String,
        content_type = "text/plain",
        example = json!("# TYPE tautline_mail_waiting gauge\ntautline_mail_waiting 3\n")
    )),
    security(())
)]
#[get("/metrics")]
pub(crate) async fn metrics(
    api: web::Data<Api>,
    request: HttpRequest,
    _none: Query<NoQuery>,
) -> Result<HttpResponse, ApiError> {
    if !may_read(&request, api.metrics_token.as_deref()) {
        return Err(ApiError::NotFound("no such address".to_owned()));
    }
    let now = api.now();
    let tally = api.store.read(move |read| store::tally::all(read, now)).await;
    let tally = tally.map_err(|error: StoreError| ApiError::from(error))?;
    let text = written(&tally, now).map_err(|error| ApiError::Internal(error.to_string()))?;
    Ok(HttpResponse::Ok().content_type(TEXT).body(text))
}

/// What a proxy adds to a request that it passes on: the first is a standard (RFC 7239), as is the second
/// (RFC 9110, section 7.6.3), the others are common practice.
const PASSED_ON: [&str; 4] = ["forwarded", "via", "x-forwarded-for", "x-real-ip"];

/// Whether the figures are for whoever asks. What a proxy on this machine passes on is from elsewhere; one
/// that does not say so needs a token to be set.
fn may_read(request: &HttpRequest, token: Option<&str>) -> bool {
    let headers = request.headers();
    let Some(token) = token else {
        let from_here =
            request.peer_addr().is_some_and(|peer| peer.ip().to_canonical().is_loopback());
        return from_here && !PASSED_ON.iter().any(|name| headers.contains_key(*name));
    };
    let shown = headers.get(header::AUTHORIZATION);
    let shown = shown.and_then(|value| value.to_str().ok()?.split_once(' '));
    shown.is_some_and(|(scheme, shown)| {
        scheme.eq_ignore_ascii_case("bearer")
            && constant_time::verify_slices_are_equal(shown.as_bytes(), token.as_bytes()).is_ok()
    })
}

fn written(tally: &Tally, now: Timestamp) -> Result<String, fmt::Error> {
    let mut out = String::new();
    let age = tally.oldest_wanted_at.map_or(0, |at| now.duration_since(at).as_secs().max(0));
    gauge(&mut out, "tautline_mail_oldest_due_age_seconds", "How late the latest mail is.")?;
    writeln!(out, "tautline_mail_oldest_due_age_seconds {age}")?;
    gauge(&mut out, "tautline_mail_waiting", "Mails that should be out by now and are not.")?;
    writeln!(out, "tautline_mail_waiting {}", tally.waiting)?;
    gauge(&mut out, "tautline_mails", "Mails by how far they have come.")?;
    for (state, count) in &tally.mails {
        writeln!(out, "tautline_mails{{state=\"{state}\"}} {count}")?;
    }
    gauge(&mut out, "tautline_reminders", "Reminders by how far they have come.")?;
    for (state, count) in &tally.reminders {
        writeln!(out, "tautline_reminders{{state=\"{state}\"}} {count}")?;
    }
    Ok(out)
}

fn gauge(out: &mut String, name: &str, help: &str) -> fmt::Result {
    write!(out, "# HELP {name} {help}\n# TYPE {name} gauge\n")
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    fn asked(peer: &str, shown: Option<&str>) -> HttpRequest {
        let request = TestRequest::get().peer_addr(peer.parse().unwrap());
        let shown = shown.map(|value| (header::AUTHORIZATION, value.to_owned()));
        shown.into_iter().fold(request, TestRequest::insert_header).to_http_request()
    }

    #[test]
    fn without_a_token_this_machine_alone_may_read() {
        for (peer, expected) in [
            ("127.0.0.1:5000", true),
            ("127.8.0.1:5000", true),
            ("[::1]:5000", true),
            ("[::ffff:127.0.0.1]:5000", true),
            ("192.0.2.7:5000", false),
            ("[2001:db8::1]:5000", false),
        ] {
            assert_eq!(may_read(&asked(peer, None), None), expected, "{peer}");
            assert_eq!(may_read(&asked(peer, Some("Bearer x")), None), expected, "{peer}");
        }
    }

    #[test]
    fn what_a_proxy_passes_on_is_not_from_this_machine() {
        for name in PASSED_ON {
            let request = TestRequest::get().peer_addr("127.0.0.1:5000".parse().unwrap());
            let passed_on = request.insert_header((name, "192.0.2.7")).to_http_request();
            assert!(!may_read(&passed_on, None), "{name}");
        }
    }

    #[test]
    fn with_a_token_whoever_shows_it_may_read_and_nobody_else() {
        let token = Some("sixteen-letters-");
        for (shown, expected) in [
            (Some("Bearer sixteen-letters-"), true),
            (Some("bearer sixteen-letters-"), true),
            (Some("Bearer sixteen-letters"), false),
            (Some("Bearer sixteen-letters-x"), false),
            (Some("Basic sixteen-letters-"), false),
            (Some("sixteen-letters-"), false),
            (Some(""), false),
            (None, false),
        ] {
            assert_eq!(may_read(&asked("192.0.2.7:5000", shown), token), expected, "{shown:?}");
            assert_eq!(may_read(&asked("127.0.0.1:5000", shown), token), expected, "{shown:?}");
        }
    }
}
