//! Whether a sheet went through the trays: booked when it did, taken back when it did not.

use sqlx::SqliteConnection;

use crate::{
    clock::World,
    domain::{
        baths::sheet_run::{NewSheetRun, SheetOf},
        evening::lab_session::LabSession,
        exposure::{Exposure, print::Print},
        ids::{LabSessionId, MovementId, PaperId, SheetRunId, SiteId, StudentId, TrayLineId},
        instant::Instant,
        people::actor::Actor,
    },
    store::{WriteError, baths::sheet_runs},
};

/// The ids that booking and taking back may need.
#[derive(Clone, Copy, Debug)]
pub struct TrayIds {
    run: SheetRunId,
    movement: MovementId,
    reversal: MovementId,
}

impl TrayIds {
    /// New ones.
    pub fn mint(world: &World) -> Self {
        Self { run: world.mint(), movement: world.mint(), reversal: world.mint() }
    }
}

/// A sheet on its way through the trays.
#[derive(Clone, Debug)]
pub struct Through {
    site: SiteId,
    session: LabSessionId,
    tray_line: Option<TrayLineId>,
    paper: PaperId,
    what: SheetOf,
    student: Option<StudentId>,
    area_mm2: i64,
}

impl Through {
    /// A negative.
    pub fn of_exposure(site: SiteId, session: &LabSession, exposure: &Exposure) -> Self {
        Self {
            site,
            session: session.id,
            tray_line: session.tray_line,
            paper: exposure.paper,
            what: SheetOf::Negative(exposure.id),
            student: exposure.student,
            area_mm2: exposure.sheet.area_mm2(),
        }
    }

    /// A contact print.
    pub fn of_print(site: SiteId, session: &LabSession, print: &Print) -> Self {
        Self {
            site,
            session: session.id,
            tray_line: session.tray_line,
            paper: print.paper,
            what: SheetOf::Print(print.id),
            student: print.student,
            area_mm2: print.sheet.area_mm2(),
        }
    }

    /// Brings the books in line with what is said: developed then, or not at all. Nothing is booked
    /// when nothing changed; another size or time takes the old booking back and makes a new one.
    ///
    /// # Errors
    /// When the booking is refused, or the database cannot be used.
    pub async fn settle(
        &self,
        tx: &mut SqliteConnection,
        actor: Actor,
        developed_at: Option<Instant>,
        ids: TrayIds,
        at: Instant,
    ) -> Result<(), WriteError> {
        let booked = sheet_runs::find_of(tx, self.what).await?;
        let stands =
            booked.as_ref().is_some_and(|run| Some(run.developed_at) == developed_at && run.area_mm2 == self.area_mm2);
        if stands {
            return Ok(());
        }
        if let Some(run) = booked {
            let why = if developed_at.is_some() { "size or time corrected" } else { "it did not go through the trays" };
            sheet_runs::undo(tx, actor, run.id, ids.reversal, at, why).await?;
        }
        match developed_at.and_then(|developed_at| self.run(developed_at, ids)) {
            Some(run) => sheet_runs::record(tx, actor, &run, at).await,
            None => Ok(()),
        }
    }

    /// Books a sheet that staff type in late. When its fixer has left the site, it is kept, and waits for
    /// the instructor's decision.
    ///
    /// # Errors
    /// When the booking is refused, or the database cannot be used.
    pub async fn book_late(
        &self,
        tx: &mut SqliteConnection,
        actor: Actor,
        developed_at: Instant,
        ids: TrayIds,
        at: Instant,
    ) -> Result<(), WriteError> {
        let Some(run) = self.run(developed_at, ids) else { return Ok(()) };
        sheet_runs::record(tx, actor, &run, at).await
    }

    /// What is booked; `None` in a session without trays.
    fn run(&self, developed_at: Instant, ids: TrayIds) -> Option<NewSheetRun> {
        Some(NewSheetRun {
            id: ids.run,
            movement: ids.movement,
            site: self.site,
            lab_session: Some(self.session),
            tray_line: self.tray_line?,
            paper: self.paper,
            what: self.what,
            student: self.student,
            sheets: 1,
            area_mm2: self.area_mm2,
            developed_at,
        })
    }
}
