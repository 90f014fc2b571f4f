"""The parent form of Series 60 with a prismatic coefficient of 0.805, as a table of offsets.

Source: F. H. Todd, "Series 60: Methodical Experiments with Models of Single-Screw Merchant Ships", David Taylor Model
Basin report 1712, July 1963, table 7 (model 4214W-B4) and table 39; a publication of the US government. The figures are
copied from a public data file of that table, which was compared with the printed page; the page itself was not seen.

Half-breadths are fractions of the greatest of their waterline, and these fractions of half the breadth.
"""

WATERLINES = (0.0, 0.075, 0.25, 0.50, 0.75, 1.00, 1.25, 1.50)
"""Of the draught. The first is the tangent to the flat bottom."""

GREATEST = (0.850, 0.970, 1.000, 1.000, 1.000, 1.000, 1.000, 1.000)

TABLE = """
0     0.000 0.000 0.000 0.000 0.000 0.000 0.044 0.098  0.000
0.5   0.053 0.162 0.235 0.258 0.267 0.280 0.318 0.378  0.243
1     0.160 0.324 0.435 0.486 0.505 0.522 0.554 0.613  0.458
1.5   0.286 0.467 0.581 0.650 0.681 0.700 0.728 0.779  0.620
2     0.423 0.591 0.702 0.774 0.808 0.830 0.852 0.890  0.746
3     0.696 0.793 0.867 0.921 0.948 0.964 0.975 0.984  0.901
4     0.903 0.929 0.962 0.983 0.994 0.999 1.000 1.000  0.975
5     0.990 0.991 0.995 0.998 1.000 1.000 1.000 1.000  0.997
6     1.000 1.000 1.000 1.000 1.000 1.000 1.000 1.000  1.000
7     1.000 1.000 1.000 1.000 1.000 1.000 1.000 1.000  1.000
8     1.000 1.000 1.000 1.000 1.000 1.000 1.000 1.000  1.000
9     1.000 1.000 1.000 1.000 1.000 1.000 1.000 1.000  1.000
10    1.000 1.000 1.000 1.000 1.000 1.000 1.000 1.000  1.000
11    1.000 1.000 1.000 1.000 1.000 1.000 1.000 1.000  1.000
12    0.996 0.997 1.000 1.000 1.000 1.000 1.000 1.000  0.999
13    0.958 0.976 0.996 1.000 1.000 1.000 1.000 1.000  0.995
14    0.858 0.906 0.958 0.991 1.000 1.000 1.000 1.000  0.974
15    0.686 0.780 0.872 0.941 0.972 0.988 0.996 1.000  0.915
16    0.486 0.625 0.726 0.831 0.900 0.941 0.969 0.991  0.806
17    0.302 0.442 0.542 0.656 0.765 0.851 0.915 0.964  0.649
18    0.146 0.266 0.337 0.427 0.560 0.712 0.832 0.896  0.449
18.5  0.092 0.185 0.232 0.298 0.425 0.617 0.764 0.840  0.336
19    0.045 0.105 0.130 0.166 0.263 0.503 0.670 0.760  0.212
19.5  0.013 0.026 0.032 0.035 0.071 0.353 0.546 0.644  0.079
20    0.000 0.000 0.000 0.000 0.000 0.160 0.370 0.476  0.100
"""
"""Station from the forward perpendicular in twentieths of the length, half-breadths at WATERLINES, and the area of the
section below the load waterline over that of the midship section."""

LENGTH, BREADTH, DRAUGHT = 600.0, 92.31, 36.93
"""Feet in the report (table 39); here mm, a model of 1:304.8."""

PRISMATIC, FOREBODY, AFTERBODY = 0.805, 0.861, 0.750
"""Volume below the load waterline over length and midship area: of the ship, and of each half."""

ROWS = [list(map(float, line.split())) for line in TABLE.strip().splitlines()]


def series_60_csv() -> str:
    """The table as CSV in mm."""
    places = [row[0] / 20 * LENGTH for row in ROWS]
    lines = [["name", "Series 60"], ["unit", "mm"], ["place", *map(repr, places)], ["keel height", *["0"] * len(ROWS)]]
    for number, (share, greatest) in enumerate(zip(WATERLINES, GREATEST, strict=True), 1):
        values = [repr(row[number] * greatest * BREADTH / 2) for row in ROWS]
        lines.append([f"waterline {share * DRAUGHT!r}", *values])
    return "\n".join(",".join(line) for line in lines) + "\n"
