//! The addresses of what a message leads to.

use crate::domain::destination::Destination;

/// The page of a destination.
pub fn address_of(destination: &Destination) -> String {
    match destination {
        Destination::Camera => "/bench/camera".to_owned(),
        Destination::Hole => "/bench/hole".to_owned(),
        Destination::Sheets => "/bench/exposures".to_owned(),
        Destination::Prints => "/bench/prints".to_owned(),
        Destination::Report => "/bench/report".to_owned(),
        Destination::Sheet(id) => format!("/bench/exposures/{id}"),
        Destination::SheetForStaff(id) => format!("/front/exposures/{id}"),
        Destination::SheetOnFloor(session, id) => format!("/front/sessions/{session}/floor/sheets/{id}"),
        Destination::Batch(id) => format!("/front/chemistry/batches/{id}"),
        Destination::Container(id) => format!("/front/waste/containers/{id}"),
        Destination::Address(address) => address.clone(),
    }
}
