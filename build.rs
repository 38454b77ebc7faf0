//! Applies `migrations/` to a scratch database, against which `sqlx::query!` checks every
//! statement at compile time. No checked-in query data to go stale.

use std::{env, path::PathBuf};

use sqlx::{Connection, SqliteConnection, sqlite::SqliteConnectOptions};

fn main() {
    println!("cargo:rerun-if-changed=migrations");
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    let file = out.join("schema.db");
    for old in ["schema.db", "schema.db-wal", "schema.db-shm"] {
        let _ = std::fs::remove_file(out.join(old));
    }
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("a runtime").block_on(async {
        let options = SqliteConnectOptions::new().filename(&file).create_if_missing(true);
        let mut connection = SqliteConnection::connect_with(&options).await.expect("scratch database");
        let migrator =
            sqlx::migrate::Migrator::new(std::path::Path::new("migrations")).await.expect("readable migrations");
        migrator.run(&mut connection).await.expect("migrations apply");
        connection.close().await.expect("close");
    });
    println!("cargo:rustc-env=DATABASE_URL=sqlite://{}", file.display());
    println!("cargo:rustc-env=SQLX_OFFLINE=false");
}
