//! Quantities of scans and of the papers that are read from them.

super::quantities! {
    /// Resolution of a scan.
    ScanResolution, "resolution of the scan", "dpi", as_dpi, 10.0, 20_000.0;
    /// Greatest density of a paper over its base.
    NetMaximumDensity, "greatest density over the base", "", as_density, 0.5, 2.6;
    /// ISO range of a paper: a hundred times its log exposure range (ISO 6846).
    IsoRange, "ISO range", "", as_range, 40.0, 220.0;
    /// Share of the surrounding light that a scanner adds to a place.
    Flare, "flare", "", as_share, 0.0, 0.05;
    /// Reflectance of unexposed paper.
    BaseReflectance, "reflectance of the base", "", as_share, 0.3, 1.0;
    /// Exponent of a scan's codes.
    ScanGamma, "gamma", "", as_exponent, 1.0, 3.0;
    /// How much more exposure each step of a strip has.
    StopsPerStep, "stops per step", "stops", as_stops, 0.1, 4.0;
}
