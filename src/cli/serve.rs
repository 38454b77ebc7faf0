//! `shimlight serve`

use std::{
    net::SocketAddr,
    path::{Path, PathBuf},
    process::ExitCode,
    time::Duration,
};

use anyhow::{Context, bail};
use clap::Args;
use tokio::{net::TcpListener, signal::unix};

use super::{addresses, backup, database, traces};
use crate::{
    clock::World,
    secrets::{self, Effort, Hasher},
    store::{
        Store,
        people::accounts::{self, LinkPurpose},
    },
    web::{
        every_route,
        kit::{listen, metrics, reach::Reach, state::AppState},
    },
};

/// How long the link of the first start works.
const LINK_HOURS: i64 = 48;
/// How often old receipts are dropped and the day's backup is thought of.
const UPKEEP_EVERY: Duration = Duration::from_secs(15 * 60);

#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    pub reached: Reached,
    /// Make one backup a day in this folder and keep the last ones
    #[arg(long, value_name = "DIR", env = "SHIMLIGHT_BACKUP_INTO")]
    backup_into: Option<PathBuf>,
    /// How many of the daily backups are kept
    #[arg(long, value_name = "NUMBER", env = "SHIMLIGHT_BACKUPS_KEPT", default_value_t = 14, value_parser = clap::value_parser!(u16).range(1..))]
    backups_kept: u16,
    /// Tell numbers for whoever watches the server, in the OpenMetrics text format, at
    /// http://ADDRESS/metrics
    #[arg(long, value_name = "ADDRESS", env = "SHIMLIGHT_METRICS")]
    metrics: Option<SocketAddr>,
    /// Begin an empty database where one was before, or where traces of one stand; never over one that
    /// is there
    #[arg(long, env = "SHIMLIGHT_NEW")]
    new: bool,
}

/// How the server is reached.
#[derive(Debug, Args)]
pub struct Reached {
    /// Where to listen; 0.0.0.0:8080 lets the lab's other computers in
    #[arg(long, value_name = "ADDRESS", env = "SHIMLIGHT_LISTEN", default_value = "127.0.0.1:8080")]
    pub listen: SocketAddr,
    /// The address people type, when it is not the one listened on (https://lab.example):
    /// decides links, QR codes, whether cookies need TLS, and which forms are let in
    #[arg(long, value_name = "URL", env = "SHIMLIGHT_PUBLIC_URL", value_parser = public_url)]
    pub public_url: Option<String>,
    /// Believe X-Forwarded-For; only behind a proxy of your own that sets it
    #[arg(long, env = "SHIMLIGHT_TRUSTED_PROXY")]
    pub trusted_proxy: bool,
}

fn public_url(text: &str) -> Result<String, String> {
    let uri: http::Uri = text.trim_end_matches('/').parse().map_err(|error| format!("{error}"))?;
    match (uri.scheme_str(), uri.authority(), uri.path()) {
        (Some("http" | "https"), Some(_), "/" | "") if uri.query().is_none() => {
            Ok(text.trim_end_matches('/').to_owned())
        }
        _ => Err("must be like https://lab.example, without a path".to_owned()),
    }
}

pub async fn run(path: &Path, options: Options) -> anyhow::Result<ExitCode> {
    let taken = || format!("{} is already being served; one server at a time", path.display());
    let Some(mut lock) = database::try_lock(path)? else { bail!(taken()) };
    traces::may_serve(path, options.new).await?;
    let listener = bind(options.reached.listen).await?;
    let store = Store::open(path).await?;
    if !lock.hold(path)? {
        bail!(taken());
    }
    lock.remember(path)?;
    let world = World::system();
    let addresses = addresses::to_type(listener.local_addr()?, options.reached.public_url.as_deref());
    say!("Shimlight serves {} on:", path.display());
    for address in &addresses {
        say!("  {address}");
    }
    if let Some(link) = first_link(&store, &world, &addresses).await? {
        say!("\nThere is no instructor yet. Open this link once to make the first account");
        say!("(it works for {LINK_HOURS} hours; a new start gives a new one):\n  {link}");
    }
    let (stop, stopped) = tokio::sync::oneshot::channel();
    let (kept, clock) = (store.clone(), world.clone());
    let upkeep = move || upkeep(kept, clock, options.backup_into, options.backups_kept);
    let upkeep = beside_the_pages(upkeep, stopped);
    let watched = match options.metrics {
        Some(address) => Some(bind(address).await?),
        None => None,
    };
    if let Some(watched) = &watched {
        say!("\nNumbers for watching it: http://{}/metrics", watched.local_addr()?);
    }
    serve(listener, watched, store, world, options.reached).await?;
    drop(stop);
    drop(upkeep.join());
    drop(lock);
    Ok(ExitCode::SUCCESS)
}

/// Listens, with the port that was free when 0 was asked for.
pub async fn bind(address: SocketAddr) -> anyhow::Result<TcpListener> {
    TcpListener::bind(address).await.with_context(|| {
        format!("cannot listen on {address}: perhaps another program does; choose another with --listen")
    })
}

/// Serves until SIGTERM or Ctrl-C, finishes what is in flight, and closes the store.
pub async fn serve(
    listener: TcpListener,
    watched: Option<TcpListener>,
    store: Store,
    world: World,
    reached: Reached,
) -> anyhow::Result<()> {
    let mut terminate = unix::signal(unix::SignalKind::terminate())?;
    let mut interrupt = unix::signal(unix::SignalKind::interrupt())?;
    let trusted_proxy = reached.trusted_proxy;
    let reach = Reach { public_url: reached.public_url, trusted_proxy };
    let state = AppState::new(store.clone(), world, Hasher::new(Effort::Full), reach);
    let closing = state.closing.clone();
    let stop = async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
        tracing::info!("stopping: finishing what is in flight");
        closing.send_replace(true);
    };
    tracing::info!(address = %listener.local_addr()?, "serving");
    let watching = watched.map(|watched| {
        let numbers = metrics::router(state.clone());
        tokio::spawn(listen::serve(watched, numbers, false, std::future::pending()))
    });
    listen::serve(listener, every_route::router(state), trusted_proxy, stop).await;
    if let Some(watching) = watching {
        watching.abort();
    }
    if store.others_beside() {
        tracing::error!("a file of another database stands where the write-ahead log was; it is left alone");
        #[expect(clippy::exit, reason = "without closing: SQLite would delete it")]
        std::process::exit(1);
    }
    store.close().await;
    tracing::info!("stopped; everything saved is on disk");
    Ok(())
}

/// The link for the first instructor, when there is none yet.
async fn first_link(store: &Store, world: &World, addresses: &[String]) -> anyhow::Result<Option<String>> {
    let mut conn = store.read().await?;
    if accounts::count_instructors(&mut conn).await? > 0 {
        return Ok(None);
    }
    drop(conn);
    let path = new_link(store, world, LinkPurpose::FirstInstructor, LINK_HOURS).await?;
    Ok(Some(format!("{}{path}", addresses.first().map_or("", String::as_str))))
}

/// The path of a new link that works once, for so many hours.
pub async fn new_link(store: &Store, world: &World, purpose: LinkPurpose, hours: i64) -> anyhow::Result<String> {
    let token = secrets::new_token(&world.chance);
    let (hash, now) = (secrets::token_hash(&token), world.now());
    let stamp = crate::store::Stamp::server(now);
    store
        .write(stamp, move |tx| {
            Box::pin(async move {
                accounts::insert_link(tx, &hash, purpose, now.plus_minutes(hours * 60), now).await?;
                Ok("/".to_owned())
            })
        })
        .await?;
    Ok(match purpose {
        LinkPurpose::FirstInstructor => format!("/first/{token}"),
        LinkPurpose::NewPassword(_) => format!("/new-password/{token}"),
    })
}

/// Runs the upkeep on a thread of its own until it is told to stop: checking a backup and taking its checksum
/// is long work without a pause, and no page waits for it.
fn beside_the_pages<F: Future<Output = ()>>(
    upkeep: impl FnOnce() -> F + Send + 'static,
    stopped: tokio::sync::oneshot::Receiver<()>,
) -> std::thread::JoinHandle<()> {
    let runtime = tokio::runtime::Handle::current();
    std::thread::spawn(move || {
        runtime.block_on(async {
            tokio::select! {
                () = upkeep() => {}
                _ = stopped => {}
            }
        });
    })
}

/// What the server does by itself, now and then: drops old receipts, makes the day's backup.
async fn upkeep(store: Store, world: World, backup_into: Option<PathBuf>, keep: u16) {
    loop {
        let stamp = crate::store::Stamp::server(world.now());
        if let Err(error) = store.tidy(stamp).await {
            tracing::warn!(%error, "old receipts could not be dropped");
        }
        if let Some(folder) = &backup_into
            && let Err(error) = backup::daily(&store, &world, folder, keep).await
        {
            tracing::error!(%error, folder = %folder.display(), "the day's backup failed");
        }
        tokio::time::sleep(UPKEEP_EVERY).await;
    }
}
