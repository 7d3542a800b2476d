"""The planking lined off from a terminal: what is proposed, kept, judged, planned and made a plank."""

import json

from scrieve import store

WIDTHS = ("--narrowest", "40mm", "--end-narrowest", "30mm", "--widest", "400mm")


def test_a_side_is_proposed_kept_planned_and_made_planks(boat, done, run):
    off = ("lining", boat, "off", "--side", "port")
    found = json.loads(done(*off, "--strakes", "8", *WIDTHS, "--json"))
    assert (found["strakes"], found["kept"]) == (8, False)
    girth, width = found["girth_mm"], found["width_mm"]
    for k in range(len(found["frames"])):  # the widths fill the girth
        assert abs(sum(row[k] for row in width) - (girth[-1][k] - girth[0][k])) < 1e-6
    assert "has not been lined off" in run("lining", boat, "butts", "--side", "port").err
    free = ", ".join(["-"] * 6)
    text = done(*off, "--strakes", "8", *WIDTHS, "--widths", f"5: 120mm, {free}, 160mm", "--at", "5", "--keep")
    row = next(line.split() for line in text.splitlines() if line.startswith("5 "))
    assert (row[1], row[8], len(row)) == ("120", "160", 9)
    assert "Kept in the boat" in text
    butts = ("lining", boat, "butts", "--side", "port")
    plan = json.loads(done(*butts, "--rules", "small yacht", "--boards", "3900mm", "--plan", "--seconds", "5", "--keep",
                           "--json"))  # fmt: skip
    assert plan["breaches"] == []
    assert plan["plan"]["joints"] == len(plan["joints"]) >= 8  # 4.8 m of hull from boards of 3.9 m: one to each strake
    assert max(plank["length_mm"] for plank in plan["plan"]["planks"]) <= 3900
    judged = done(*butts, "--there", "3 5-6", "--there", "4 5-6")
    assert "2 butts: " in judged
    assert "breach" in judged
    assert "1 butt: every rule kept." in done(*butts, "--there", "3 2.45m")
    make = ("lining", boat, "plank", "4", "--side", "port", "--first", "2")
    assert "plank measured: " in done(*make, "--last", "3450mm", "--name", "measured")
    assert "plank fourth" in done(*make, "--last", "7", "--name", "fourth")
    engine = store.open_boat(boat)
    assert store.planks(engine)["fourth"]["choice"]["ends"]["first"] == "butt"
    assert store.choices(engine, "lining")["port"]["planks"] == {"4": ["measured", "fourth"]}
    engine.dispose()
    assert "strake 9" in run("lining", boat, "plank", "9", "--side", "port").err


def test_a_skin_is_laid_and_one_plank_kept(boat, done, run):
    skin = ("lining", boat, "skin", "--thickness", "10mm", "--width", "250mm")
    planks = json.loads(done(*skin, "--plank", "6", "--json"))["planks"]
    assert len(planks) > 8
    shown = json.loads(done("plank", boat, "inner 6", "--json"))
    assert shown["kind"] == "diagonal"
    assert shown["thickness_mm"] == 10
    assert run(*skin, "--plank", "99").code == 1


def test_clinker_panels_and_a_plank_laid_over_another(boat, done, written, run):
    done("lining", boat, "off", "--strakes", "8", *WIDTHS, "--keep")
    done("lining", boat, "plank", "4", "--first", "2", "--last", "8", "--name", "hull four")
    lands = json.loads(done("plank", boat, "hull four", "--build", "clinker", "--thickness", "12mm", "--json"))["lands"]
    assert {land["lap_mm"] for land in lands} == {24}
    panel = json.loads(done("plank", boat, "hull four", "--build", "panel", "--thickness", "6mm", "--sheet", "1500mm",
                            "1220mm", "--scarf-slope", "8", "--json"))  # fmt: skip
    assert {joint["length_mm"] for joint in panel["joints"]} == {48}
    drawn = json.loads(done("plank", boat, "hull four", "--build", "carvel", "--thickness", "20mm", "--json"))
    rows = [f"{f['label']},{edge},{f[f'{edge}_mm'][0]},{f[f'{edge}_mm'][1]}"
            for f in drawn["frames"] for edge in ("lower", "upper")]  # fmt: skip
    points = written("points.csv", "frame,edge,x_mm,y_mm\n" + "\n".join(rows))
    found = json.loads(done("plank", boat, "by hand", "--spiling", points, "--against", "hull four", "--json"))
    assert found["against"]["greatest_mm"] < 1.5  # faired within a mm
    assert len(found["against"]["frames"]) == len(drawn["frames"])
    assert "one of the two must be spiled" in run("plank", boat, "hull four", "--against", "hull four").err
