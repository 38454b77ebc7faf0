//! Lengths of a camera and its hole, all in millimetres except the wavelength (nanometres).

super::quantities! {
    /// Distance from the hole to the film, straight ahead. For film on the far wall of a round
    /// can with the hole in its side it is the inside diameter.
    HoleToFilm, "hole-to-film distance", "mm", as_mm, 5.0, 5000.0;
    /// Distance from the hole to the subject, along the axis.
    SubjectDistance, "subject distance", "mm", as_mm, 10.0, 1e8;
    /// Diameter of the hole.
    HoleDiameter, "hole diameter", "mm", as_mm, 0.01, 20.0;
    /// One side of a film or paper, or the diameter of a round one; on a curved film its length
    /// along the arc, or its height.
    FilmSide, "film side", "mm", as_mm, 1.0, 3000.0;
    /// Inside diameter of a round can.
    InsideDiameter, "inside diameter", "mm", as_mm, 10.0, 2000.0;
    /// Thickness of the plate the hole is in.
    PlateThickness, "plate thickness", "mm", as_mm, 0.001, 10.0;
    /// Diameter of a needle's shaft.
    ShaftDiameter, "shaft diameter", "mm", as_mm, 0.05, 20.0;
    /// Length of a needle's taper, from the point to the full shaft.
    TaperLength, "taper length", "mm", as_mm, 0.1, 200.0;
    /// Diameter of a needle at its very point.
    PointDiameter, "point diameter", "mm", as_mm, 0.0, 5.0;
    /// Uncertainty of one reading of a micrometer, loupe or microscope (one standard deviation).
    InstrumentUncertainty, "instrument uncertainty", "mm", as_mm, 0.0, 1.0;
    /// The focal length that belongs to a hole by the hole formula; always a result.
    FocalLength, "focal length", "mm", as_mm, 0.01, 1e7;
    /// Wavelength of light.
    Wavelength, "wavelength", "nm", as_nm, 300.0, 1100.0;
    /// How far off straight ahead a place of the film is seen from the hole, as far as diffraction is
    /// worked out there.
    FieldAngle, "field angle", "°", as_deg, 0.0, 85.0;
    /// The constant C of the hole formula d = C sqrt(lambda f).
    HoleConstant, "hole constant", "", as_number, 0.5, 3.0;
}

impl Wavelength {
    /// The wavelength in millimetres, as the formulas take it.
    pub const fn as_mm(self) -> f64 {
        self.0 * 1e-6
    }
}

impl InsideDiameter {
    /// Half the inside diameter.
    pub const fn radius_mm(self) -> f64 {
        self.0 / 2.0
    }

    /// The hole-to-film distance of a hole in the side wall with film on the wall opposite.
    pub const fn hole_to_film(self) -> HoleToFilm {
        HoleToFilm::computed(self.0)
    }
}
