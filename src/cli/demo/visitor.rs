//! Whoever walks in: opens pages and fills in forms, in process, under the same rules as everybody.

use anyhow::{Context, bail};
use axum::{
    Router,
    body::{Body, to_bytes},
    http::{Request, StatusCode, header, request},
};
use tower::ServiceExt;

use super::{
    multipart::multipart,
    paper_form::{PaperForm, words},
};

/// No page of ours is longer.
const LONGEST_PAGE: usize = 8 * 1024 * 1024;

/// A browser of sorts: keeps its cookies.
#[derive(Clone, Debug)]
pub struct Visitor {
    router: Router,
    cookies: Vec<(String, String)>,
}

/// A page as it was shown.
#[derive(Clone, Debug)]
pub struct Shown {
    /// Its path.
    pub path: String,
    /// What it holds.
    pub html: String,
}

/// What came of a form.
#[derive(Clone, Debug)]
pub enum Answer {
    /// It was saved; this page shows it.
    LedTo(String),
    /// A page that is an answer itself: a preview before anything is stored.
    Shown(String),
}

impl Shown {
    /// The last part of its path: the id of what it shows.
    pub fn id(&self) -> &str {
        let path = self.path.split(['?', '#']).next().unwrap_or_default();
        path.rsplit('/').next().unwrap_or_default()
    }
}

impl Visitor {
    /// Somebody without cookies.
    pub fn new(router: &Router) -> Self {
        Self { router: router.clone(), cookies: Vec::new() }
    }

    /// Opens a page, following redirects.
    ///
    /// # Errors
    /// When it is not shown.
    pub async fn opens(&mut self, path: &str) -> anyhow::Result<Shown> {
        let mut path = path.to_owned();
        for _ in 0..5 {
            let (status, location, html) = self.send(Request::get(&path), Body::empty()).await?;
            match status {
                StatusCode::OK => return Ok(Shown { path, html }),
                StatusCode::SEE_OTHER => path = location,
                _ => bail!("{path} was not shown ({status}): {}", words(&html)),
            }
        }
        bail!("{path} leads round in circles")
    }

    /// Opens `page`, fills in its form that goes to `action`, sends it, and opens what it leads to.
    ///
    /// # Errors
    /// When the form is not there or not accepted.
    pub async fn fills_in(&mut self, page: &str, action: &str, fields: &[(&str, &str)]) -> anyhow::Result<Shown> {
        let shown = self.opens(page).await?;
        self.sends(&shown, action, fields).await
    }

    /// Fills in the form of a page already open, sends it, and opens what it leads to.
    ///
    /// # Errors
    /// When the form is not there or not accepted.
    pub async fn sends(&mut self, shown: &Shown, action: &str, fields: &[(&str, &str)]) -> anyhow::Result<Shown> {
        match self.posts(shown, action, fields).await? {
            Answer::LedTo(path) => self.opens(&path).await,
            Answer::Shown(html) => Ok(Shown { path: action.to_owned(), html }),
        }
    }

    /// Fills in the form of a page already open and sends it.
    ///
    /// # Errors
    /// When the form is not there or not accepted.
    pub async fn posts(&mut self, shown: &Shown, action: &str, fields: &[(&str, &str)]) -> anyhow::Result<Answer> {
        let mut form = PaperForm::find(&shown.html, action)
            .with_context(|| format!("{} has no form for {action}: {}", shown.path, words(&shown.html)))?;
        for (name, value) in fields {
            form.fill(name, value);
        }
        let request = Request::post(action).header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        let (status, location, html) = self.send(request, Body::from(form.body())).await?;
        match status {
            StatusCode::SEE_OTHER => Ok(Answer::LedTo(location)),
            StatusCode::OK => Ok(Answer::Shown(html)),
            _ => bail!("{action} was not accepted ({status}) with {fields:?}: {}", words(&html)),
        }
    }

    /// Opens `page`, fills in its form that goes to `action`, and sends it with a picture.
    ///
    /// # Errors
    /// When the form is not there or not accepted.
    pub async fn sends_picture(
        &mut self,
        page: &str,
        action: &str,
        fields: &[(&str, &str)],
        picture: &[u8],
    ) -> anyhow::Result<()> {
        let shown = self.opens(page).await?;
        let mut form = PaperForm::find(&shown.html, action)
            .with_context(|| format!("{} has no form for {action}: {}", shown.path, words(&shown.html)))?;
        for (name, value) in fields {
            form.fill(name, value);
        }
        let plain: Vec<(String, String)> = form.fields().iter().filter(|(name, _)| name != "file").cloned().collect();
        let (kind, body) = multipart(&plain, picture);
        let request = Request::post(action).header(header::CONTENT_TYPE, kind);
        let (status, _, html) = self.send(request, Body::from(body)).await?;
        if status != StatusCode::SEE_OTHER {
            bail!("{action} was not accepted ({status}): {}", words(&html));
        }
        Ok(())
    }

    async fn send(&mut self, request: request::Builder, body: Body) -> anyhow::Result<(StatusCode, String, String)> {
        let cookies: Vec<String> = self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        let request = request.header(header::HOST, "demo").header(header::COOKIE, cookies.join("; ")).body(body)?;
        let (parts, body) = self.router.clone().oneshot(request).await?.into_parts();
        for set in parts.headers.get_all(header::SET_COOKIE) {
            let pair = set.to_str()?.split(';').next().unwrap_or_default();
            let (name, value) = pair.split_once('=').unwrap_or((pair, ""));
            self.cookies.retain(|(kept, _)| kept != name);
            if !value.is_empty() {
                self.cookies.push((name.to_owned(), value.to_owned()));
            }
        }
        let location = parts.headers.get(header::LOCATION).and_then(|to| to.to_str().ok()).unwrap_or_default();
        let html = String::from_utf8_lossy(&to_bytes(body, LONGEST_PAGE).await?).into_owned();
        Ok((parts.status, location.to_owned(), html))
    }
}
