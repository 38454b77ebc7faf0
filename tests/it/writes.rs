//! What holds for every write: receipts, savepoints, refusals.

use shimlight::{
    domain::{
        field_errors::FieldErrors,
        ids::{FormId, SectionId},
        people::{actor::Actor, section::Section},
    },
    store::{self, Stamp, WriteError},
};

use crate::app::TestApp;

fn section(app: &TestApp, site: shimlight::domain::ids::SiteId, door_code: &str) -> Section {
    let id: SectionId = app.state.mint();
    Section {
        id,
        site,
        name: format!("Group {door_code}"),
        door_code: door_code.to_owned(),
        walk_ins: false,
        version: 1,
    }
}

async fn send(app: &TestApp, stamp: Stamp, new: Section) -> Result<String, WriteError> {
    let at = app.state.now();
    app.state
        .store
        .write(stamp, move |tx| {
            Box::pin(async move {
                store::people::sections::insert(tx, &new, at).await?;
                Ok(format!("/front/sections/{}", new.id))
            })
        })
        .await
}

fn stamp(app: &TestApp, form_id: FormId, content: u8) -> Stamp {
    Stamp {
        form_id,
        actor: Actor::Server,
        route: "POST /front/sections".to_owned(),
        body_hash: [content; 32],
        at: app.state.now(),
        receipt: true,
        cut: FieldErrors::none(),
    }
}

#[tokio::test]
async fn the_same_form_sent_twice_makes_one_record_and_leads_to_the_same_page() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let form: FormId = app.state.mint();
    let first = send(&app, stamp(&app, form, 1), section(&app, evening.site, "MOLE")).await.expect("saved");
    let second = send(&app, stamp(&app, form, 1), section(&app, evening.site, "MOLE")).await.expect("answered");
    assert_eq!(first, second);
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::people::sections::list(&mut conn).await.expect("sections").len(), 2);
}

#[tokio::test]
async fn the_same_form_with_other_content_is_refused_and_shows_what_was_saved() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let form: FormId = app.state.mint();
    let first = send(&app, stamp(&app, form, 1), section(&app, evening.site, "MOLE")).await.expect("saved");
    let second = send(&app, stamp(&app, form, 2), section(&app, evening.site, "PIER")).await;
    assert!(matches!(second, Err(WriteError::SentBefore(landing)) if landing == first));
}

#[tokio::test]
async fn a_refused_write_fails_alone_and_its_neighbours_in_the_group_are_kept() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let codes: Vec<String> =
        (0..40).map(|n| if n % 4 == 3 { "QUAY7".to_owned() } else { format!("PIER{n}") }).collect();
    let sent = codes.iter().map(|code| {
        let form: FormId = app.state.mint();
        send(&app, stamp(&app, form, 1), section(&app, evening.site, code))
    });
    let results = futures_util::future::join_all(sent).await;
    for (code, result) in codes.iter().zip(results) {
        match (code.as_str(), result) {
            ("QUAY7", Err(WriteError::Constraint(message))) => {
                assert!(message.contains("section.door_code"), "{message}");
            }
            ("QUAY7", other) => panic!("a taken door code was not refused: {other:?}"),
            (_, other) => drop(other.expect("the neighbours are saved")),
        }
    }
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::people::sections::list(&mut conn).await.expect("sections").len(), 31);
}

#[tokio::test]
async fn a_refusal_leaves_nothing_behind_and_the_form_may_be_sent_again() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let form: FormId = app.state.mint();
    let half = section(&app, evening.site, "MOLE");
    let at = app.state.now();
    let refused = app
        .state
        .store
        .write(stamp(&app, form, 1), move |tx| {
            Box::pin(async move {
                store::people::sections::insert(tx, &half, at).await?;
                Err(FieldErrors::one("name", "must not be empty").into())
            })
        })
        .await;
    assert!(matches!(refused, Err(WriteError::Refused(_))));
    send(&app, stamp(&app, form, 2), section(&app, evening.site, "MOLE")).await.expect("a 422 consumes nothing");
}

#[tokio::test]
async fn a_write_that_panics_fails_its_group_and_the_next_one_is_saved() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let broken =
        app.state.store.write(app.state.server_stamp(), |_tx| Box::pin(async { panic!("a slip of ours") })).await;
    assert!(matches!(broken, Err(WriteError::Storage(_))));
    let form: FormId = app.state.mint();
    send(&app, stamp(&app, form, 1), section(&app, evening.site, "MOLE")).await.expect("the writer goes on");
}

#[tokio::test]
async fn the_log_that_grew_while_somebody_read_is_cut_short_afterwards() {
    let app = TestApp::new().await;
    app.evening().await;
    let bound = 16 * 1024 * 1024;
    let write = || {
        app.write(|tx| {
            Box::pin(async move {
                let long = "n".repeat(400_000);
                let sql =
                    "INSERT INTO change_log (at, actor_kind, what, subject, detail) VALUES (0, 'server', 'x', 'x', ?)";
                sqlx::query(sql).bind(long).execute(tx).await?;
                Ok(String::new())
            })
        })
    };
    let mut reading = app.state.store.read().await.expect("a reader");
    sqlx::query("BEGIN").execute(&mut *reading).await.expect("begun");
    let _: i64 = sqlx::query_scalar("SELECT count(*) FROM site").fetch_one(&mut *reading).await.expect("a count");
    for _ in 0..60 {
        write().await;
    }
    assert!(app.state.store.wal_bytes() > bound, "{}", app.state.store.wal_bytes());
    sqlx::query("COMMIT").execute(&mut *reading).await.expect("read");
    for _ in 0..15 {
        write().await;
    }
    assert!(app.state.store.wal_bytes() <= bound, "{}", app.state.store.wal_bytes());
}

#[tokio::test]
async fn whatever_is_written_refused_or_broken_the_rows_agree_with_their_digests() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    for (form, code) in [("A", "MOLE"), ("B", "MOLE"), ("C", "PIER")] {
        // the second is refused by a constraint
        drop((form, send(&app, stamp(&app, app.state.mint(), 1), section(&app, evening.site, code)).await));
    }
    let panicked = app.state.store.write(app.state.server_stamp(), |tx| {
        Box::pin(async move {
            let done = sqlx::query("UPDATE site SET place = 'half done'").execute(tx).await;
            assert!(done.is_err(), "a slip of ours");
            Ok(String::new())
        })
    });
    let panicked = panicked.await;
    assert!(panicked.is_err());
    app.write(|tx| {
        Box::pin(async move {
            sqlx::query("UPDATE section SET name = name || ' again'").execute(&mut *tx).await?;
            sqlx::query("DELETE FROM section WHERE door_code = 'PIER'").execute(tx).await?;
            Ok(String::new())
        })
    })
    .await;
    app.state.store.scrub().await.expect("written anew");
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::engine::check::run(&mut conn).await.expect("a check"), []);
}
