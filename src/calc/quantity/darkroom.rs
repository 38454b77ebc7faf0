//! Quantities of baths, sheets and silver.

super::quantities! {
    /// A volume of solution in litres.
    Litres, "volume", "L", as_l, 0.0, 100_000.0;
    /// A volume of solution in millilitres.
    Millilitres, "volume", "mL", as_ml, 0.0, 10_000_000.0;
    /// An area of paper or film.
    SquareMetres, "area", "m²", as_m2, 0.0, 1_000_000.0;
    /// How much area a litre of a working solution can take.
    Capacity, "capacity", "m²/L", as_m2_per_l, 0.001, 1000.0;
    /// Silver on, or delivered by, an area of paper or film.
    GramsPerSquareMetre, "silver per area", "g/m²", as_g_m2, 0.0, 50.0;
    /// Concentration of silver in a bath.
    GramsPerLitre, "silver concentration", "g/L", as_g_per_l, 0.0, 100.0;
    /// Concentration of silver in waste or effluent.
    MilligramsPerLitre, "silver concentration", "mg/L", as_mg_per_l, 0.0, 100_000.0;
    /// The share of the coated silver that goes into the fixer.
    DissolvedShare, "dissolved share", "", as_share, 0.0, 1.0;
    /// Liquid that an area of paper or film carries from one bath into the next.
    CarryOver, "carry-over", "mL/m²", as_ml_per_m2, 0.0, 2000.0;
    /// Temperature of a bath.
    Celsius, "temperature", "°C", as_c, 0.0, 60.0;
    /// How many times faster development is 10 °C warmer.
    TemperatureFactor, "factor per 10 °C", "", as_number, 1.0, 6.0;
    /// A concentration or share in per cent.
    Percent, "percentage", "%", as_percent, 0.0, 100.0;
}
