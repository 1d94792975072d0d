"""What may be in a chamber: molar masses, heat capacities and vapour pressures.

Heat capacities are those of the ideal gas, a straight line from −20 to 120 °C: c_p = a + b·(t − 25 °C) in J/(mol·K).
Within that range the lines lie within 1 % of the equations of state (methane and methanol, whose curves bend most at
the cold end, within 1.7 %); the tests hold them to it, and with it the speed of sound in the thin gas to 0.3 %. Molar
masses: IUPAC atomic weights. Heat capacities at 25 °C: NIST Chemistry WebBook, from memory; slopes drawn through its
tables.

Vapour pressures: Antoine's log₁₀(p/bar) = A − B/(T + C), T in kelvin, coefficients of the NIST Chemistry WebBook:
methanol (Ambrose and Sprake 1970, 288 to 357 K), ethanol (the same, 293 to 367 K), isopentane (Willingham and others
1945, 289 to 302 K): found in public code citing it; iso-octane (Willingham and others 1945, 298 to 372 K): from
memory, and it gives the printed normal boiling point of 99.2 °C. Outside those ranges they are extrapolated: down to
0 °C and up to 100 °C the three that can be compared stay within 2.1 % of the equations of state.

Petrol is a mixture of hundreds of substances, different in every tank, so it is represented:

- `petrol` by iso-octane (2,2,4-trimethylpentane): what clings to warm walls after the light ends are gone.
- `petrol_fresh` by isopentane at 0.425 of its own vapour pressure, which gives 60 kPa at 37.8 °C, the most that EN 228
  allows summer petrol (from memory): what a flooded or freshly fed cylinder breathes out.
"""

from typing import NamedTuple


class Substance(NamedTuple):
    """One gas: M in g/mol, c_p at 25 °C in J/(mol·K) and its slope in J/(mol·K²)."""

    label: str
    molar_mass_g_mol: float
    heat_capacity_25: float
    heat_capacity_slope: float


class Vapour(NamedTuple):
    """One fuel: the substance that stands for it, Antoine's coefficients (bar, K), and the share of that pressure."""

    label: str
    stands_for: str  # what represents it, in words
    substance: str  # key of SUBSTANCES
    antoine_a: float
    antoine_b: float
    antoine_c: float
    share: float


AIR, WATER = "air", "water"

SUBSTANCES: dict[str, Substance] = {
    AIR: Substance("dry air", 28.96546, 29.10, 0.0019),  # CIPM-2007 with 400 ppm of carbon dioxide
    WATER: Substance("water vapour", 18.01528, 33.59, 0.0056),
    # two published lines differ by 2 % (184.8 and 188.9 at 25 °C): taken between them
    "iso_octane": Substance("iso-octane", 114.2285, 186.9, 0.56),
    "isopentane": Substance("isopentane", 72.1488, 118.9, 0.340),
    "methanol": Substance("methanol", 32.0419, 44.06, 0.070),
    "ethanol": Substance("ethanol", 46.0684, 65.2, 0.157),
    "nitrogen": Substance("nitrogen", 28.0134, 29.12, 0.0008),
    "oxygen": Substance("oxygen", 31.9988, 29.38, 0.0061),
    "argon": Substance("argon", 39.948, 20.786, 0.0),
    "helium": Substance("helium", 4.002602, 20.786, 0.0),
    "hydrogen": Substance("hydrogen", 2.01588, 28.84, 0.0053),
    "carbon_dioxide": Substance("carbon dioxide", 44.0095, 37.13, 0.0435),
    "nitrous_oxide": Substance("nitrous oxide", 44.0128, 38.6, 0.0425),
    "methane": Substance("methane", 16.0425, 35.7, 0.043),
    "propane": Substance("propane", 44.0956, 73.6, 0.198),
}

FUELS: dict[str, Vapour] = {
    "petrol": Vapour("petrol", "iso-octane", "iso_octane", 3.93679, 1257.84, -52.415, 1.0),
    "petrol_fresh": Vapour(
        "fresh petrol", "isopentane at summer petrol's vapour pressure", "isopentane", 3.91457, 1020.012, -40.053, 0.425
    ),
    "methanol": Vapour("methanol", "methanol", "methanol", 5.20409, 1581.341, -33.50, 1.0),
    "ethanol": Vapour("ethanol", "ethanol", "ethanol", 5.24677, 1598.673, -46.424, 1.0),
}

OTHER_GASES = (  # known so that the refusal can say how far the figure would lie
    "nitrogen", "oxygen", "argon", "helium", "hydrogen", "carbon_dioxide", "nitrous_oxide", "methane", "propane",
)  # fmt: skip
