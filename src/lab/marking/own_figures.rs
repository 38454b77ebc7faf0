//! Own figures at a bench: the questions with this student's numbers, and what is held back now.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::{Camera, hole::Hole, target::HoleFormula},
        evening::lab_session::{LabSession, SessionState},
        ids::{SectionId, StudentId},
        marking::{
            own_figure::{Ask, Figure, HeldBack, Question, Try, is_open},
            own_question::{Numbers, applies, question},
        },
        stock::{
            paper::Paper,
            product::{Product, ProductKind},
        },
    },
    store::{
        self,
        camera::{cameras, holes},
        marking::own_figures,
        stock::{papers, products},
    },
};

/// What is asked of one student in a session, and how far they are.
pub struct Asked {
    /// What is asked of them, with the question where its numbers are there already.
    pub figures: Vec<AskedFigure>,
}

/// One value asked of a student.
pub struct AskedFigure {
    /// How near is near enough.
    pub ask: Ask,
    /// The question; `None` while its numbers are not there.
    pub question: Option<Question>,
    /// The tries so far, the first first.
    pub tries: Vec<Try>,
    /// Whether it waits for something the student has not made or measured yet.
    waits: bool,
}

impl AskedFigure {
    /// Whether the server shows its own value.
    pub fn is_open(&self) -> bool {
        is_open(&self.tries)
    }

    /// Whether it is held back: asked, not open, and it can be answered now or later.
    fn is_held(&self) -> bool {
        !self.is_open() && (self.question.is_some() || self.waits)
    }
}

/// What the questions of a session are made from, once for all its students.
pub struct Basis {
    session: LabSession,
    asks: Vec<Ask>,
    formula: HoleFormula,
    paper: Paper,
    product: Option<Product>,
}

impl Basis {
    /// Looks it up; `None` when the session asks for nothing.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn of(conn: &mut SqliteConnection, session: &LabSession) -> Result<Option<Self>, store::Error> {
        let asks = own_figures::list_asks(conn, session.id).await?;
        let paper = papers::find(conn, session.paper).await?;
        let formula = HoleFormula::of(session);
        let (Some(paper), Ok(formula), false) = (paper, formula, asks.is_empty()) else { return Ok(None) };
        let product = products::list(conn).await?.into_iter().find(|product| product.kind == ProductKind::Developer);
        Ok(Some(Self { session: session.clone(), asks, formula, paper, product }))
    }

    /// What is asked of one student.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn asked_of(
        &self,
        conn: &mut SqliteConnection,
        section: SectionId,
        student: StudentId,
    ) -> Result<Asked, store::Error> {
        let camera = cameras::find_of_student(conn, student).await?;
        let hole = match &camera {
            Some(camera) => holes::find_latest(conn, camera.id).await?,
            None => None,
        };
        let partner = match &camera {
            Some(camera) => own_figures::partner_place(conn, camera.id, student).await?,
            None => 0,
        };
        let seat = own_figures::seat_place(conn, section, student).await?;
        let tries = own_figures::list_tries(conn, self.session.id, student).await?;
        Ok(Asked { figures: self.figures(camera.as_ref(), hole.as_ref(), partner, seat, &tries) })
    }

    fn figures(
        &self,
        camera: Option<&Camera>,
        hole: Option<&Hole>,
        partner: usize,
        seat: usize,
        tries: &[Try],
    ) -> Vec<AskedFigure> {
        let product = self.product.as_ref();
        let is_open = |of: Figure| is_open(&tries.iter().filter(|it| it.figure == of).cloned().collect::<Vec<_>>());
        let f_number_is_held = self.asks.iter().any(|ask| ask.figure == Figure::FNumber) && !is_open(Figure::FNumber);
        let numbers = Numbers {
            camera,
            hole,
            formula: self.formula,
            paper: &self.paper,
            product,
            partner,
            seat,
            f_number_is_held,
        };
        let asked = self.asks.iter().filter(|ask| applies(ask.figure, camera));
        let figure = |ask: &Ask| AskedFigure {
            ask: *ask,
            question: question(ask.figure, &numbers),
            tries: tries.iter().filter(|tried| tried.figure == ask.figure).cloned().collect(),
            // with camera and hole at hand, what still cannot be asked never will be
            waits: camera.is_none() || hole.is_none(),
        };
        asked.map(figure).filter(|it| it.question.is_some() || it.waits || !it.tries.is_empty()).collect()
    }
}

/// What is asked of one student in a session, and how far they are.
///
/// # Errors
/// When the database cannot be used.
pub async fn asked_of(
    conn: &mut SqliteConnection,
    session: &LabSession,
    section: SectionId,
    student: StudentId,
) -> Result<Vec<AskedFigure>, store::Error> {
    match Basis::of(conn, session).await? {
        Some(basis) => Ok(basis.asked_of(conn, section, student).await?.figures),
        None => Ok(Vec::new()),
    }
}

/// What is held back from a student in a session: what it asks of them and they have neither had
/// right nor tried twice. When the session is over everything is open.
///
/// # Errors
/// When the database cannot be used.
pub async fn held_back(
    conn: &mut SqliteConnection,
    session: Option<&LabSession>,
    section: SectionId,
    student: StudentId,
) -> Result<HeldBack, store::Error> {
    let Some(session) = session.filter(|session| !matches!(session.state, SessionState::Closed { .. })) else {
        return Ok(HeldBack::NOTHING);
    };
    let Some(basis) = Basis::of(conn, session).await? else { return Ok(HeldBack::NOTHING) };
    let asked = basis.asked_of(conn, section, student).await?;
    Ok(HeldBack::of(asked.figures.iter().filter(|it| it.is_held()).map(|it| it.ask.figure)))
}
