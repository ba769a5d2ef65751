"""What is wrong with the real maps when a plan keeps silent about it, or asks
for what they lack: each a plan of testdata with one change, refused with words
that tell what to do."""
import subprocess

# plan, text in it, text in its place, what the refusal must speak of
CHANGES = [
    ("olinda", "band: 3", "# no band", ["L7_ETMs.tif", "6 bands", "band:"]),
    ("olinda", "band: 4", "band: 7", ["L7_ETMs.tif", "6"]),
    ("gorillas", "crs: EPSG:32632", "# no CRS", ["2_gorillas.yaml:16:3:", "vegetation.asc", "crs:"]),
    ("gorillas", "6: transition}", "7: transition}", ["6", "354"]),
    ("puerto_rico", "missing: 0", "# nothing missing", ['"cover"', "code 0", "2615", "missing:"]),
    ("puerto_rico", ", accept scale error: yes", "", ["4 %", "accept scale error"]),
    ("luxembourg", "field: NAME_2", "field: NAME2", ["lux.shp", "NAME_2"]),
    ("luxembourg", "{Clervaux: 1,", "{Clervau: 1,", ["Clervau", "Clervaux"]),
    ("luxembourg", "others: 0", "# no others", ["Echternach", "18830 ha", "others"]),
    ("luxembourg", 'grid: {crs: "EPSG:2169", cell: 100 m}', "grid: {like: ground}", ["degrees", "projected"]),
    ("luxembourg", "box: [48000, 56000, 107000, 140000]", "box: [348000, 56000, 407000, 140000]", ["lux.shp", "km"]),
    ("oxford", "unit: percent", "unit: pH", ["oxford_clay.tif", "11"]),
    ("bering", ", accept scale error: yes", "", ["5 %", "accept scale error"]),
]


def check(program, plans, real, f):
    """Tries every change and holds the answer to it."""
    folder = real / "refused"
    folder.mkdir(exist_ok=True)
    for i, (name, old, new, words) in enumerate(CHANGES):
        text = (plans / f"{name}.yaml").read_text()
        f.where = f"{name} with {new or 'nothing'!r} for {old!r}"
        f.same("places of the text to change", text.count(old), 1)
        plan = folder / f"{i}_{name}.yaml"
        plan.write_text(text.replace(old, new).replace("../real/maps", "../maps"))
        out = folder / f"{i}_{name}.out"
        done = subprocess.run([program, "run", plan, "--quiet"], capture_output=True, text=True)
        f.same("exit code", done.returncode, 2)
        for word in words:
            f.that(word in done.stderr, f"the refusal does not speak of {word!r}:\n{done.stderr}")
        f.that(not out.exists(), "it left outputs")
