//! The cast of the silver book's stories: a darkroom with its tray line, and somebody to write the book.

use std::sync::Arc;

use shimlight::{
    domain::{
        baths::batch::{Batch, Slot},
        book::{self, Amount, MovementKind, Vessel},
        ids::{AccountId, BatchId, SheetRunId, SiteId},
        instant::Instant,
        people::actor::Actor,
        stock::product::{Product, ProductKind},
        waste::{discharge::Discharge, reading::Method},
    },
    store::{
        self, WriteError,
        baths::sheet_runs::{self, NewSheetRun, SheetOf},
        book::{
            movements::{self, NewBatch, Occasion},
            reversals,
        },
    },
};

use crate::app::{Evening, TestApp};

/// A darkroom with its tray line and somebody to write the book.
pub struct Darkroom {
    pub app: Arc<TestApp>,
    pub evening: Evening,
    pub actor: Actor,
}

/// A product with figures of a data sheet that tests/reference names: 40 sheets of 8x10 in a litre at 2 g/L of silver.
pub fn product(app: &TestApp, site: SiteId, kind: ProductKind) -> Product {
    Product {
        capacity_mm2_per_l: Some(2_064_512),
        tray_life_ms: Some(7 * 24 * 3600 * 1000),
        silver_limit_ug_per_l: (kind == ProductKind::Fixer).then_some(2_000_000),
        ..Product::bare(app.state.mint(), site, kind, &format!("Quarry {}", kind.as_str()), (1, 4))
    }
}

impl Darkroom {
    pub async fn new() -> Self {
        let app = TestApp::new().await;
        let evening = app.evening().await;
        let account: AccountId = app.state.mint();
        let at = app.state.now();
        app.write(move |tx| {
            Box::pin(async move {
                let role = shimlight::domain::people::actor::Role::Assistant;
                store::people::accounts::insert(tx, account, role, "otis", "Otis Brae", "no password", at).await?;
                Ok(String::new())
            })
        })
        .await;
        Self { app, evening, actor: Actor::Staff(account) }
    }

    pub fn now(&self) -> Instant {
        self.app.state.now()
    }

    pub fn occasion(&self, remark: &str) -> Occasion {
        let now = self.now();
        Occasion {
            movement: self.app.state.mint(),
            actor: self.actor,
            happened_at: now,
            recorded_at: now,
            remark: remark.to_owned(),
        }
    }

    /// What allowed a discharge of this occasion.
    pub fn allowed(&self, occasion: &Occasion) -> Discharge {
        Discharge {
            id: self.app.state.mint(),
            movement: occasion.movement,
            // an invented authority
            authority: "Harbour sewer works".to_owned(),
            reference: "permit 12".to_owned(),
            reference_on: Some(jiff::civil::date(2026, 1, 5)),
        }
    }

    /// Runs a write and gives what it gave.
    pub async fn does<T: Send + 'static>(
        &self,
        work: impl for<'c> FnOnce(
            &'c mut sqlx::SqliteConnection,
        ) -> std::pin::Pin<Box<dyn Future<Output = Result<T, WriteError>> + Send + 'c>>
        + Send
        + 'static,
    ) -> Result<T, WriteError> {
        let (keep, kept) = tokio::sync::oneshot::channel();
        let stamp = self.app.state.server_stamp();
        self.app
            .state
            .store
            .write(stamp, move |tx| {
                Box::pin(async move {
                    let value = work(tx).await?;
                    let _ = keep.send(value);
                    Ok("/".to_owned())
                })
            })
            .await?;
        Ok(kept.await.expect("a value after a write"))
    }

    pub async fn mixes(&self, kind: ProductKind, litres: i64) -> Batch {
        self.mixes_ml(kind, litres * 1000).await
    }

    pub async fn mixes_ml(&self, kind: ProductKind, ml: i64) -> Batch {
        let product = product(&self.app, self.evening.site, kind);
        let (id, occasion): (BatchId, _) = (self.app.state.mint(), self.occasion(""));
        self.does(move |tx| {
            Box::pin(async move {
                store::stock::products::insert(tx, &product).await?;
                let (parts_concentrate, parts_water) = (product.parts_concentrate, product.parts_water);
                let new = NewBatch { id, product, parts_concentrate, parts_water, volume_ul: ml * 1000 };
                movements::mix(tx, &occasion, new).await
            })
        })
        .await
        .expect("mixed")
    }

    pub async fn sets_in(&self, slot: Slot, batch: &Batch) {
        let (id, line, batch, now) = (self.app.state.mint(), self.evening.tray_line, batch.id, self.now());
        self.does(move |tx| Box::pin(async move { movements::set_in(tx, id, (line, slot), batch, now, now).await }))
            .await
            .expect("set in");
    }

    /// A run of sheets of 4x5 inches (12,903 mm² each) that went through just now.
    pub fn four_by_five(&self, sheets: i64) -> NewSheetRun {
        NewSheetRun {
            id: self.app.state.mint(),
            movement: self.app.state.mint(),
            site: self.evening.site,
            lab_session: Some(self.evening.session),
            tray_line: self.evening.tray_line,
            paper: self.evening.paper,
            what: SheetOf::Other,
            student: None,
            sheets,
            area_mm2: sheets * 12_903,
            developed_at: self.now(),
        }
    }

    pub async fn puts_through(&self, run: NewSheetRun) -> Result<SheetRunId, WriteError> {
        let (actor, now, id) = (self.actor, self.now(), run.id);
        self.does(move |tx| Box::pin(async move { sheet_runs::record(tx, actor, &run, now).await })).await.map(|()| id)
    }

    pub async fn takes_back(&self, run: SheetRunId) -> Result<(), WriteError> {
        let (actor, now, movement) = (self.actor, self.now(), self.app.state.mint());
        self.does(move |tx| {
            Box::pin(async move { sheet_runs::undo(tx, actor, run, movement, now, "typed twice").await })
        })
        .await
    }

    pub async fn holds(&self, batch: &Batch) -> Amount {
        let mut conn = self.app.state.store.read().await.expect("a reader");
        store::book::balance(&mut conn, Vessel::Batch(batch.id)).await.expect("a balance")
    }

    pub async fn entries(&self) -> Vec<book::Entry> {
        let mut conn = self.app.state.store.read().await.expect("a reader");
        store::book::list(&mut conn).await.expect("the book")
    }

    /// Does a movement at a vessel, now.
    pub async fn reads(&self, vessel: Vessel, ug_per_l: i64) -> Result<(), WriteError> {
        let (occasion, id) = (self.occasion(""), self.app.state.mint());
        let silver = book::Silver::exactly(ug_per_l);
        self.does(move |tx| {
            Box::pin(async move { movements::read_silver(tx, &occasion, id, vessel, Method::Laboratory, silver).await })
        })
        .await
    }

    /// Takes back the movement of the newest entry of a kind.
    pub async fn takes_back_last(&self, kind: MovementKind) -> Result<(), WriteError> {
        let entries = self.entries().await;
        let movement = entries.iter().rev().find(|entry| entry.kind == kind).expect("an entry").movement;
        let (actor, id, now) = (self.actor, self.app.state.mint(), self.now());
        self.does(move |tx| Box::pin(async move { reversals::reverse(tx, actor, movement, id, now, "a slip").await }))
            .await
    }

    pub async fn is_right(&self) {
        let mut conn = self.app.state.store.read().await.expect("a reader");
        assert_eq!(store::engine::check::run(&mut conn).await.expect("a check"), []);
    }
}

/// The message for a form as a whole.
pub fn refusal(error: WriteError) -> String {
    match error {
        WriteError::Refused(errors) => errors.iter().map(|(_, words)| words.to_owned()).collect::<Vec<_>>().join("; "),
        other => panic!("not refused but {other:?}"),
    }
}
