//! A session with a rubric, and the marker's form as a browser would send it: for the stories of
//! marks and their files.

use std::sync::Arc;

use shimlight::{
    domain::{
        ids::{CriterionId, LabSessionId, StudentId},
        points::Points,
        rubric::{Criterion, Rubric},
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
    let evening = app.the_evening().await;
    let criteria = criteria
        .map(|(name, milli)| Criterion {
            id: app.state.mint(),
            name: name.to_owned(),
            description: String::new(),
            max: Points::from_milli(milli),
        })
        .to_vec();
    let rubric =
        Rubric { id: app.state.mint(), site: evening.site, name: "First light".to_owned(), criteria, version: 1 };
    let (stored, session) = (rubric.clone(), evening.session);
    app.write(move |tx| {
        Box::pin(async move {
            store::rubrics::insert(tx, &stored).await?;
            let plan = store::lab_sessions::find(tx, session).await?.expect("the session");
            let plan = shimlight::domain::lab_session::LabSession { rubric: Some(stored.id), ..plan };
            assert!(store::lab_sessions::update_plan(tx, &plan).await?);
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

    /// The name of a field of a criterion.
    pub fn field(&self, name: &str, criterion: &str) -> String {
        format!("{name}-{}", self.criterion(criterion))
    }

    /// What the open page would send back if nothing were typed into it.
    pub fn as_shown(&self, page: &Answer) -> Vec<(String, String)> {
        let mut fields = Vec::new();
        for criterion in &self.rubric.criteria {
            for name in ["points", "had-points", "had-comment", "seen"] {
                let field = self.field(name, &criterion.name);
                let value = page.attribute(&format!("[name={field}]"), "value").expect("a field");
                fields.push((field, value));
            }
            let comment = self.field("comment", &criterion.name);
            let value = page.text(&format!("[name={comment}]"));
            fields.push((comment, value));
        }
        for name in ["seen-overall", "had-overall"] {
            fields.push((name.to_owned(), page.attribute(&format!("[name={name}]"), "value").expect("a field")));
        }
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
