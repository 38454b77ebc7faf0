//! A session with a rubric, and the marker's form as a browser would send it: for the stories of
//! marks and their files.

use std::sync::Arc;

use shimlight::{
    domain::{
        ids::{CriterionId, LabSessionId, StudentId},
        marking::{
            from_record::{HoleTolerance, Source},
            points::Points,
            rubric::{Criterion, Rubric},
        },
    },
    store,
};

use crate::app::{Answer, Client, TestApp};

/// A session marked by three criteria: negative of 4, print of 3, report of 3.
#[derive(Clone, Debug)]
pub struct Marking {
    pub session: LabSessionId,
    pub rubric: Rubric,
}

/// The usual cast, the open session marked by a rubric.
pub async fn with_rubric() -> (Arc<TestApp>, Client, Client, Marking) {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let marking = give_rubric(&app, [("Negative", 4_000), ("Contact print", 3_000), ("Report", 3_000)]).await;
    (app, instructor, student, marking)
}

/// Gives the evening's session a rubric.
pub async fn give_rubric(app: &TestApp, criteria: [(&str, i64); 3]) -> Marking {
    give_rubric_of(app, &criteria.map(|(name, milli)| (name, milli, None))).await
}

/// Gives the evening's session a rubric with criteria from the record.
pub async fn give_rubric_of(app: &TestApp, criteria: &[(&str, i64, Option<Source>)]) -> Marking {
    let evening = app.the_evening().await;
    let criteria = criteria
        .iter()
        .map(|(name, milli, source)| Criterion {
            id: app.state.mint(),
            name: (*name).to_owned(),
            description: String::new(),
            max: Points::from_milli(*milli),
            source: *source,
            hole_within: HoleTolerance::default(),
            levels: Vec::new(),
        })
        .collect();
    let rubric =
        Rubric { id: app.state.mint(), site: evening.site, name: "First light".to_owned(), criteria, version: 1 };
    let (stored, session) = (rubric.clone(), evening.session);
    app.write(move |tx| {
        Box::pin(async move {
            store::marking::rubrics::insert(tx, &stored).await?;
            let plan = store::evening::lab_sessions::find(tx, session).await?.expect("the session");
            let plan = shimlight::domain::evening::lab_session::LabSession { rubric: Some(stored.id), ..plan };
            assert!(store::evening::lab_sessions::update_plan(tx, &plan).await?);
            Ok(String::new())
        })
    })
    .await;
    Marking { session, rubric }
}

impl Marking {
    /// The criterion called so.
    pub fn criterion(&self, name: &str) -> CriterionId {
        self.rubric.criteria.iter().find(|it| it.name == name).expect("a criterion").id
    }

    /// The table of marks.
    pub fn table(&self) -> String {
        format!("/front/sessions/{}/marks", self.session)
    }

    /// A student's page.
    pub fn sheet(&self, student: StudentId) -> String {
        format!("{}/{student}", self.table())
    }

    /// A student's line in the table: what stands in its cells, then the total.
    pub fn row(&self, table: &Answer, student: StudentId) -> Vec<String> {
        let value = |criterion: CriterionId| {
            table.attribute(&format!("[name=points-{student}-{criterion}]"), "value").expect("a cell")
        };
        let total = table.text(&format!("tr[data-student='{student}'] .total"));
        self.rubric.criteria.iter().map(|it| value(it.id)).chain([total]).collect()
    }

    /// What a script would send of one cell of the table that shows `had` at version `seen`.
    pub fn cell<'a>(
        &self,
        student: StudentId,
        criterion: &str,
        (had, seen): (&'a str, &'a str),
        typed: &'a str,
    ) -> Vec<(String, String)> {
        let id = self.criterion(criterion);
        [("points", typed), ("had-points", had), ("seen", seen)]
            .map(|(name, value)| (format!("{name}-{student}-{id}"), value.to_owned()))
            .to_vec()
    }

    /// The name of a field of a criterion.
    pub fn field(&self, name: &str, criterion: &str) -> String {
        format!("{name}-{}", self.criterion(criterion))
    }

    /// What the open page would send back if nothing were typed into it.
    pub fn as_shown(&self, page: &Answer) -> Vec<(String, String)> {
        let mut fields = Vec::new();
        for criterion in &self.rubric.criteria {
            for name in ["points", "had-points", "had-comment", "had-reason", "seen"] {
                let field = self.field(name, &criterion.name);
                // only where the record suggests something is a reason asked for
                let Some(value) = page.attribute(&format!("[name={field}]"), "value") else { continue };
                fields.push((field, value));
            }
            for name in ["comment", "reason"] {
                let area = self.field(name, &criterion.name);
                if page.attribute(&format!("[name={area}]"), "id").is_some() {
                    let value = page.text(&format!("[name={area}]"));
                    fields.push((area, value));
                }
            }
        }
        for name in ["seen-overall", "had-overall", "had-standing"] {
            fields.push((name.to_owned(), page.attribute(&format!("[name={name}]"), "value").expect("a field")));
        }
        fields.push(("standing".to_owned(), fields.last().expect("a field").1.clone()));
        fields.push(("overall".to_owned(), page.text("[name=overall]")));
        fields
    }

    /// Fills in the page that is open: `("points", "Negative", "3.5")`; an empty criterion is a field of the whole.
    pub fn typed(&self, page: &Answer, typed: &[(&str, &str, &str)]) -> Vec<(String, String)> {
        let mut fields = self.as_shown(page);
        for (name, criterion, value) in typed {
            let field = if criterion.is_empty() { (*name).to_owned() } else { self.field(name, criterion) };
            fields.retain(|(other, _)| *other != field);
            fields.push((field, (*value).to_owned()));
        }
        fields
    }

    /// Opens a student's page, fills it in and sends it.
    pub async fn mark(&self, marker: &Client, student: StudentId, typed: &[(&str, &str, &str)]) -> Answer {
        let path = self.sheet(student);
        let page = marker.get(&path).await;
        send(marker, &path, &self.typed(&page, typed)).await
    }
}

/// Sends fields that are owned.
pub async fn send(client: &Client, path: &str, fields: &[(String, String)]) -> Answer {
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    client.post(path, &fields).await
}
