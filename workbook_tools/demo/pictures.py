"""The pictures of the demo program: one drawing for each item and each building step, named as the setup names them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path

from workbook_tools.contract.look import default_look
from workbook_tools.demo.drawing import motifs, packs, steps, tins, wares
from workbook_tools.demo.drawing.canvas import KRAFT, STEEL, Canvas
from workbook_tools.demo.drawing.display import Kit
from workbook_tools.demo.drawing.packs import Trade
from workbook_tools.demo.scenario import Scenario

ITEM_SIZE = (480, 360)
STEP_SIZE = (640, 480)
"""Width and height, in px."""

_TRAY_DRAWN_LARGE = ("A", 2, 1)

_ITEMS: dict[str, Callable[[Canvas, Trade], None]] = {
    "vanilla-extract.png": partial(packs.bottle, words="Vanilla extract", motif=motifs.blossom, tint="#E8B93B"),
    "almond-flavoring.png": partial(packs.small_bottle, words="Almond", motif=motifs.almond, tint="#C98B4E"),
    "peppermint-flavoring.png": partial(
        packs.small_bottle, words="Peppermint", motif=motifs.peppermint, tint="#D0313F"
    ),
    "gel-colors.png": partial(packs.window_box, words="Gel colors, set of 4", pieces=packs.gel_pots),
    "icing-pens.png": partial(packs.icing_pens, words="Icing pens, set of 3"),
    "piping-bags.png": partial(packs.piping_bags, words="50 piping bags"),
    "sugar-pearls.png": partial(packs.jar, words="Sugar pearls", contents=packs.pearl),
    "snowflake-sprinkles.png": partial(packs.jar, words="Snowflakes", contents=packs.flake),
    "silver-star-sprinkles.png": partial(packs.jar, words="Silver stars", contents=packs.silver_star),
    "cake-flour.png": partial(packs.bag, words="Cake flour, 2 lb", motif=motifs.wheat, tint="#C39A2E"),
    "powdered-sugar.png": partial(packs.bag, words="Powdered sugar", motif=motifs.sieve, tint="#7F9BB0"),
    "gingerbread-mix.png": partial(packs.box, words="Gingerbread mix", motif=motifs.gingerbread, tint="#9A5A2B"),
    "dark-chocolate-chips.png": partial(packs.pouch, words="Dark chocolate chips", pieces=motifs.drop, tint="#4A2714"),
    "caramel-bits.png": partial(packs.pouch, words="Caramel bits", pieces=motifs.cubes, tint="#C47A2C"),
    "praline-paste.png": partial(tins.can, words="Hazelnut praline", motif=motifs.hazelnut, tint="#9C5F2C"),
    "cookie-tin-round.png": tins.round_tin,
    "cookie-tin-square.png": tins.square_tin,
    "cookie-cutters.png": partial(packs.window_box, words="Cookie cutters, 5 shapes", pieces=wares.five_cutters),
    "gingerbread-cutters.png": wares.gingerbread_cutters,
    "snowflake-cutters.png": wares.snowflake_cutters,
    "foil-loaf-pans.png": partial(tins.loaf_shapes, words=("Foil", "loaf pans"), colour=STEEL),
    "pie-weights.png": partial(packs.jar, words="Pie weights", contents=packs.ceramic_ball),
    "baking-cups.png": partial(tins.baking_cups, words="60 baking cups"),
    "mini-loaf-cases.png": partial(tins.loaf_shapes, words=("Mini", "loaf cases"), colour=KRAFT),
    "parchment-roll.png": partial(tins.parchment, words="Baking parchment, 50 ft"),
    "balloon-whisk.png": wares.whisk,
    "silicone-spatula.png": wares.spatula,
    "rolling-pin.png": wares.rolling_pin,
    "gift-ribbon-red.png": partial(wares.ribbon, colour="#BE2F3A", words="Red, 20 yd"),
    "gift-ribbon-green.png": partial(wares.ribbon, colour="#2F7D4F", words="Green, 20 yd"),
    "gift-tags.png": wares.tags,
    "treat-bags.png": wares.treat_bag,
    "treat-boxes.png": wares.gable_box,
}

_STEPS: dict[str, Callable[[Canvas, Kit], None]] = {
    "step-01-find-carton.png": steps.find_carton,
    "step-02-open-carton.png": steps.open_carton,
    "step-03-base.png": steps.unfold_base,
    "step-04-spine.png": steps.slot_spine,
    "step-05-shelves.png": steps.hang_shelves,
    "step-06-place.png": steps.move_to_place,
    "step-07-trays.png": steps.fold_trays,
    "step-08-labels.png": steps.slide_label,
    "step-09-tags.png": steps.tag_in_gap,
    "step-10-fill-photo.png": steps.fill_and_photo,
}


def draw_pictures(scenario: Scenario, folder: Path) -> None:
    """Write a PNG for every item and step of the demo program into `folder`, which is made if it is missing.

    Each is named as the setup names it. Packs carry the colour that their brand's label has on the sheets. The same
    scenario and look give the same bytes with the same Pillow.

    Raises KeyError when the scenario names a picture for which there is no drawing.
    """
    folder.mkdir(parents=True, exist_ok=True)
    trades = _trades(scenario)
    for row in scenario.blocks["items"]:
        canvas = Canvas(*ITEM_SIZE)
        _ITEMS[str(row["picture"])](canvas, trades[row["brand"]])
        (folder / str(row["picture"])).write_bytes(canvas.png())
    kit = _kit(scenario, trades)
    for row in scenario.blocks["steps"]:
        canvas = Canvas(*STEP_SIZE)
        _STEPS[str(row["picture"])](canvas, kit)
        (folder / str(row["picture"])).write_bytes(canvas.png())


def _trades(scenario: Scenario) -> dict[object, Trade]:
    """Each brand with the paint of its label."""
    look = default_look()
    brands = [str(row["brand"]) for row in scenario.blocks["labels"]]
    paints = {brand: look.brand(number) for number, brand in enumerate(brands)}
    return {brand: Trade(brand, f"#{paint.fill}", f"#{paint.ink}") for brand, paint in paints.items()}


def _kit(scenario: Scenario, trades: Mapping[object, Trade]) -> Kit:
    """What the drawings of the steps take from the program."""
    items = {row["item"]: row for row in scenario.blocks["items"]}
    standing = {(row["face"], row["shelf"], row["place"]): items[row["item"]] for row in scenario.blocks["positions"]}
    colours: dict[str, list[list[str]]] = {}
    for (face, _, place), item in sorted(standing.items()):
        shelves = colours.setdefault(str(face), [])
        if place == 1:
            shelves.append([])
        shelves[-1].append(trades[item["brand"]].fill)
    large = standing[_TRAY_DRAWN_LARGE]
    program = scenario.blocks["program"][0]
    words = str(program["name"]).split()
    return Kit(
        header=(" ".join(words[:2]), " ".join(words[2:])),
        marks=str(program["code"]),
        tray=trades[large["brand"]],
        item_code=str(large["item_code"]),
        colours=colours,
    )
