//! A camera's outline in a few lines, to be known at a glance across a room.

use askama::Template;

use crate::domain::camera::Build;

/// The outline of a kind of camera; its name stands in it for those who do not see it.
#[derive(Clone, Copy, Debug, Template)]
#[template(
    ext = "html",
    source = r#"<svg class="outline" viewBox="0 0 40 28" width="40" height="28" role="img" aria-label="{{ build.as_str() }}">{% match build %}{% when Build::Box %}<rect class="ink" x="5" y="4" width="30" height="20" stroke-width="2"/>{% when Build::EndHoleCan %}<path class="ink" d="M5 6v16M35 6v16M5 6h30M5 22h30" stroke-width="2"/><path class="film" d="M33 8v12" stroke-width="3"/>{% when Build::SideHoleCan %}<circle class="ink" cx="20" cy="14" r="11" stroke-width="2"/><path class="film" d="M26 6a10 10 0 0 1 0 16" stroke-width="3"/>{% when Build::BodyCap %}<path class="ink" d="M3 8h10l3-4h9l3 4h9v16H3z" stroke-width="2"/><circle class="ink" cx="20" cy="15" r="5" stroke-width="2"/>{% endmatch %}<circle class="brass" cx="{% match build %}{% when Build::SideHoleCan %}9{% when Build::BodyCap %}20{% when _ %}5{% endmatch %}" cy="{% match build %}{% when Build::BodyCap %}15{% when _ %}14{% endmatch %}" r="2.5"/></svg>"#
)]
pub struct CameraOutline {
    build: Build,
}

impl askama::filters::HtmlSafe for CameraOutline {}

impl CameraOutline {
    /// Of a kind of camera.
    pub fn of(build: Build) -> Self {
        Self { build }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_an_outline_of_its_own_with_its_name() {
        let drawn = Build::ALL.map(|build| CameraOutline::of(build).render().expect("a drawing"));
        for (index, (svg, build)) in drawn.iter().zip(Build::ALL).enumerate() {
            assert!(svg.contains(&format!("aria-label=\"{}\"", build.as_str())), "{svg}");
            assert!(drawn[..index].iter().all(|other| other != svg));
        }
    }
}
