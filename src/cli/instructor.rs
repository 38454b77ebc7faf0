//! `shimlight instructor`

use std::{net::SocketAddr, path::Path, process::ExitCode};

use anyhow::bail;
use clap::Subcommand;

use super::{addresses, database, serve};
use crate::{
    clock::World,
    domain::{ids::AccountId, people::actor::Role},
    store::{
        Stamp,
        people::accounts::{self, LinkPurpose},
    },
};

/// How long a link works.
const LINK_HOURS: i64 = 48;

#[derive(Debug, Subcommand)]
pub enum Task {
    /// Make an instructor's account and print the link that sets its password
    Add {
        /// What they type to sign in
        sign_in_name: String,
        /// How the pages show them
        display_name: String,
    },
    /// Print a link that sets a new password
    Reset {
        /// What they type to sign in
        sign_in_name: String,
    },
}

pub async fn run(path: &Path, task: Task) -> anyhow::Result<ExitCode> {
    let (store, _lock) = database::open_existing(path).await?;
    let world = World::system();
    let id = match task {
        Task::Add { sign_in_name, display_name } => {
            let id: AccountId = world.mint();
            let now = world.now();
            let stamp = Stamp::server(now);
            let added = store
                .write(stamp, move |tx| {
                    Box::pin(async move {
                        // no password fits this hash: the link sets the first one
                        accounts::insert(tx, id, Role::Instructor, &sign_in_name, &display_name, "none yet", now)
                            .await?;
                        Ok("/".to_owned())
                    })
                })
                .await;
            match added {
                Err(crate::store::WriteError::Constraint(reason)) => bail!("that account cannot be made: {reason}"),
                added => added?,
            };
            id
        }
        Task::Reset { sign_in_name } => {
            let mut conn = store.read().await?;
            match accounts::find_for_sign_in(&mut conn, &sign_in_name).await? {
                Some((id, _)) => id,
                None => bail!("nobody signs in as {sign_in_name}"),
            }
        }
    };
    let link = serve::new_link(&store, &world, LinkPurpose::NewPassword(id), LINK_HOURS).await?;
    store.close().await;
    say!("Open this once, within {LINK_HOURS} hours, on the server's own address:");
    let listen = std::env::var("SHIMLIGHT_LISTEN").ok().and_then(|address| address.parse().ok());
    let listen = listen.unwrap_or(SocketAddr::from(([127, 0, 0, 1], 8080)));
    let public_url = std::env::var("SHIMLIGHT_PUBLIC_URL").ok();
    let addresses = addresses::to_type(listen, public_url.as_deref());
    say!("  {}{link}", addresses.first().map_or("", String::as_str));
    Ok(ExitCode::SUCCESS)
}
