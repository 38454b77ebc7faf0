//! Numbers for whoever watches the server, in the OpenMetrics text format; on a listener of their
//! own, so that the lab does not see them.

use std::{
    fmt::Write,
    sync::atomic::{AtomicU64, Ordering},
};

use axum::{
    Router,
    extract::State,
    http::header,
    response::{IntoResponse, Response},
    routing,
};

use super::state::AppState;

/// The format's content type.
const OPEN_METRICS: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";
/// Classes of answers, by the first digit of the status.
const CLASSES: [&str; 5] = ["1xx", "2xx", "3xx", "4xx", "5xx"];

/// The pages of the listener.
pub fn router(state: AppState) -> Router {
    Router::new().route("/metrics", routing::get(show)).with_state(state)
}

async fn show(State(state): State<AppState>) -> Response {
    ([(header::CONTENT_TYPE, OPEN_METRICS)], text(&state)).into_response()
}

fn text(state: &AppState) -> String {
    let mut out = String::new();
    let (answers, counted) = (&state.answers, state.store.counted());
    let read = |count: &AtomicU64| count.load(Ordering::Relaxed);
    family(&mut out, "shimlight_requests", "counter", "Requests answered, by class of status.");
    for (class, count) in CLASSES.iter().zip(&answers.classes) {
        line(&mut out, &format!("shimlight_requests_total{{status=\"{class}\"}}"), read(count));
    }
    family(&mut out, "shimlight_forms_refused", "counter", "Forms sent back with messages beside their fields.");
    line(&mut out, "shimlight_forms_refused_total", read(&answers.refused));
    family(
        &mut out,
        "shimlight_forms_stale",
        "counter",
        "Forms refused because the record had changed or was sent before.",
    );
    line(&mut out, "shimlight_forms_stale_total", read(&answers.stale));
    let (open, gave_way) = state.streams.counted();
    family(&mut out, "shimlight_streams", "gauge", "Streams of events open.");
    line(&mut out, "shimlight_streams", open);
    family(&mut out, "shimlight_streams_gave_way", "counter", "Streams ended because one person held many.");
    line(&mut out, "shimlight_streams_gave_way_total", gave_way);
    let slow = [("optics", &state.optics), ("pictures", &state.uploads), ("hashing", &state.hashing)];
    family(&mut out, "shimlight_slow_work_waiting", "gauge", "Requests waiting for slow work, by its kind.");
    for (kind, work) in slow {
        line(&mut out, &format!("shimlight_slow_work_waiting{{kind=\"{kind}\"}}"), work.counted().0);
    }
    family(
        &mut out,
        "shimlight_slow_work_refused",
        "counter",
        "Requests told to come again, by the kind of slow work.",
    );
    for (kind, work) in slow {
        line(&mut out, &format!("shimlight_slow_work_refused_total{{kind=\"{kind}\"}}"), work.counted().1);
    }
    family(&mut out, "shimlight_tries_refused", "counter", "Sign-in and door-code tries told to wait.");
    line(&mut out, "shimlight_tries_refused_total", state.slowdown.refused());
    family(&mut out, "shimlight_writes_waiting", "gauge", "Writes waiting for the writer.");
    line(&mut out, "shimlight_writes_waiting", state.store.queue_depth());
    family(&mut out, "shimlight_writes", "counter", "Writes committed.");
    line(&mut out, "shimlight_writes_total", counted.writes);
    family(&mut out, "shimlight_commits_failed", "counter", "Groups of writes that the disk did not take.");
    line(&mut out, "shimlight_commits_failed_total", counted.failed);
    family(&mut out, "shimlight_commit_seconds", "summary", "Time a group of writes took, to its commit.");
    line(&mut out, "shimlight_commit_seconds_sum", counted.spent.as_secs_f64());
    line(&mut out, "shimlight_commit_seconds_count", counted.commits + counted.failed);
    family(&mut out, "shimlight_wal_bytes", "gauge", "Size of the write-ahead log.");
    line(&mut out, "shimlight_wal_bytes", state.store.wal_bytes());
    out.push_str("# EOF\n");
    out
}

fn family(out: &mut String, name: &str, kind: &str, help: &str) {
    let _ = writeln!(out, "# TYPE {name} {kind}\n# HELP {name} {help}");
}

fn line(out: &mut String, name: &str, value: impl std::fmt::Display) {
    let _ = writeln!(out, "{name} {value}");
}
