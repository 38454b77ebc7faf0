//! The log: one line an event, on standard error. It carries ids, never names.

use tracing_subscriber::EnvFilter;

/// Starts logging. `SHIMLIGHT_LOG` says what is written (default: `info`); with
/// `SHIMLIGHT_LOG_FORMAT=json`, each line is a JSON object.
pub fn start() {
    let filter = EnvFilter::try_from_env("SHIMLIGHT_LOG").unwrap_or_else(|_| EnvFilter::new("info,sqlx=warn"));
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_target(false);
    if std::env::var("SHIMLIGHT_LOG_FORMAT").is_ok_and(|format| format == "json") {
        lines.json().init();
    } else {
        lines.with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr())).init();
    }
}
