//! `shimlight demo`: an invented section to walk around in.

use std::{path::PathBuf, process::ExitCode};

use anyhow::{Context, bail};
use clap::Args;

use super::{
    scratch::Scratch,
    serve::{self, Reached},
};
use crate::{
    clock::{Chance, Clock, World},
    domain::instant::Instant,
    store::{Store, engine::own_files},
};

mod asked;
mod care;
mod chemistry;
mod experience;
mod floor;
mod marking;
mod multipart;
mod paper_form;
mod people;
mod setting;
mod stage;
mod story;
mod visitor;
mod work;

/// What `shimlight demo` is asked.
#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    reached: Reached,
    /// Keep the database as DIR/shimlight.db instead of throwing it away
    #[arg(long, value_name = "DIR", env = "SHIMLIGHT_DEMO_INTO")]
    into: Option<PathBuf>,
    /// Only write the database; serve nothing
    #[arg(long, requires = "into", env = "SHIMLIGHT_DEMO_NO_SERVE")]
    no_serve: bool,
    /// Let it be this moment (2026-03-20T18:00:00Z) and fix every choice, so that two runs are alike
    #[arg(long, value_name = "INSTANT", value_parser = instant, env = "SHIMLIGHT_DEMO_AT")]
    at: Option<Instant>,
}

fn instant(text: &str) -> Result<Instant, String> {
    let timestamp: jiff::Timestamp = text.parse().map_err(|error: jiff::Error| error.to_string())?;
    Instant::from_timestamp(timestamp).map_err(|error| error.to_string())
}

/// How to enter the demo.
#[derive(Clone, Debug)]
pub struct Ways {
    /// What the instructor types to sign in.
    sign_in_name: String,
    /// Their password.
    password: String,
    /// The assistant's sign-in name and password.
    assistant: (String, String),
    /// The door code of the section.
    door_code: String,
    /// A roster number and family name nobody has joined with yet.
    newcomer: (String, String),
    /// A student's name and seat key.
    seat: (String, String),
}

/// `shimlight demo`.
///
/// # Errors
/// When the story cannot be told or the pages cannot be served.
pub async fn run(options: Options) -> anyhow::Result<ExitCode> {
    let (folder, thrown_away) = match &options.into {
        Some(folder) => (folder.clone(), None),
        None => {
            let scratch = Scratch::new("demo")?;
            (scratch.path().to_owned(), Some(scratch))
        }
    };
    own_files::create_folder(&folder).with_context(|| format!("cannot make {}", folder.display()))?;
    let path = folder.join("shimlight.db");
    if path.exists() {
        bail!("{} is there already: name an empty folder with --into", path.display());
    }
    // listen first: nobody wants to wait for a section that then cannot be shown
    let listener = if options.no_serve { None } else { Some(serve::bind(options.reached.listen).await?) };
    say!("Inventing a section: its people, cameras, sheets, baths, waste and marks. This takes some seconds.");
    let (told, served) = worlds(options.at);
    let store = Store::open(&path).await?;
    let quiet = tracing::subscriber::set_default(tracing::subscriber::NoSubscriber::default());
    let stage = stage::Stage::new(&store, &told)?;
    let there = stage.now_in_words();
    let ways = story::tell(&stage).await?;
    drop((stage, quiet));
    say!("An invented section stands in {}.", path.display());
    say!("In its lab it is {there} now, wherever you are.");
    let Some(listener) = listener else {
        print(&ways, None);
        store.close().await;
        return Ok(ExitCode::SUCCESS);
    };
    let addresses = super::addresses::to_type(listener.local_addr()?, options.reached.public_url.as_deref());
    print(&ways, addresses.first().map(String::as_str));
    serve::serve(listener, None, store, served, options.reached).await?;
    drop(thrown_away);
    Ok(ExitCode::SUCCESS)
}

/// The world in which the story is told (its clock is moved along) and the one it is served in.
fn worlds(at: Option<Instant>) -> (World, World) {
    match at {
        // whoever walks in draws from a stream of its own: not again what the story drew
        Some(at) => (World::fixed(at), World { clock: Clock::fixed(at), chance: Chance::seeded("walked into") }),
        None => {
            let served = World::system();
            (World { clock: Clock::fixed(served.now()), chance: Chance::System }, served)
        }
    }
}

fn print(ways: &Ways, address: Option<&str>) {
    if let Some(address) = address {
        say!("\nOpen {address}");
    }
    say!("  as the instructor:  sign-in name {}, password {}", ways.sign_in_name, ways.password);
    say!("  as the assistant:   sign-in name {}, password {}", ways.assistant.0, ways.assistant.1);
    say!("  as {}:  seat key {}", ways.seat.0, ways.seat.1);
    say!(
        "  as a new student:   door code {}, roster number {}, family name {}",
        ways.door_code,
        ways.newcomer.0,
        ways.newcomer.1
    );
    if address.is_some() {
        say!("Ctrl-C ends it.");
    }
}
