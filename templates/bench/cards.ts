/** A set-up as a card: what to cut, set, run, count and look at, in worked-out figures, with the cautions that belong to the step. */
import type { Measure } from "../../core/model.ts";
import type { SetUp } from "../../core/setup/index.ts";
import { limitText, measureText, nominalText } from "../phrases.ts";
import { figure, propertyWord, type Say } from "../wording.ts";

export interface CardLine {
  readonly label: string;
  readonly text: string;
  readonly kind: "fact" | "caution";
}

export interface Card {
  readonly title: string;
  readonly lines: readonly CardLine[];
  /** Names of the pieces for the blanks at the end. */
  readonly pieces: readonly string[];
  /** One line for the set-up plan. */
  readonly brief: string;
}

/** Where the pieces of a card stand in the workbook. */
export interface CardRows {
  readonly sheet: string;
  readonly first: number;
  readonly last: number;
}

const NAMES_SHOWN = 12;

export function toCard(setUp: SetUp, number: number, rows: CardRows | undefined, say: Say): Card {
  const facts: { label: string; text: string }[] = [];
  const fact = (label: string, text: string): void => void facts.push({ label: say(`card.${label}`), text });
  const names = [...new Set(setUp.pieces.map((piece) => piece.testPiece))];

  fact(
    "wire",
    say("card.wireText", {
      order: setUp.order,
      item: setUp.item,
      specification: setUp.specification,
      grade: setUp.grade,
      nominal: nominalText(say, setUp.nominal),
    }).replaceAll(/ ,/g, ","),
  );
  const list = names.length === 0 ? say("card.none") : say("card.piecesText", { count: names.length, names: shortList(names, say) });
  fact("pieces", list);
  if (rows !== undefined) fact("rows", say("card.rowsText", { ...rows, code: `${setUp.order}-${setUp.item}-${setUp.property}` }));
  fact("limit", requirementsText(setUp, say));
  const brief = settingFacts(setUp, fact, say);

  return {
    title: `${say("card.title", { number, test: propertyWord(say, setUp.property) })}`,
    lines: [
      ...facts.map((f): CardLine => ({ ...f, kind: "fact" })),
      ...cautionsOf(setUp.sheet).map((code): CardLine => ({ label: say("card.cautions"), text: say(code), kind: "caution" })),
      { label: "", text: say("card.defer"), kind: "caution" },
    ],
    pieces: names,
    brief: brief.filter((part) => part !== "").join("; "),
  };
}

/** The requirement, and those read from the same rows by name. */
export function requirementsText({ requirement, also }: SetUp, say: Say): string {
  return [limitText(say, requirement), ...also.map((r) => `${propertyWord(say, r.property)} ${limitText(say, r)}`)].join("; ");
}

function shortList(names: readonly string[], say: Say): string {
  if (names.length <= NAMES_SHOWN) return names.join(", ");
  return say("card.piecesMore", { names: names.slice(0, NAMES_SHOWN).join(", "), more: names.length - NAMES_SHOWN });
}

type Fact = (label: string, text: string) => void;

function settingFacts(setUp: SetUp, fact: Fact, say: Say): readonly string[] {
  const amount = (m: Measure): string => measureText(say, m);
  const machine = (): void => fact("machine", setUp.tester ?? say("card.machine.shelf"));
  const brief: string[] = [];
  /** A fact that also stands in the one line of the plan. */
  const both = (label: string, text: string): void => {
    fact(label, text);
    brief.push(`${say(`card.${label}`)} ${text}`);
  };
  switch (setUp.sheet) {
    case "torsion": {
      const turns = setUp.requirement.min;
      machine();
      if (setUp.cutLength !== undefined && setUp.freeLength !== undefined)
        fact("cut", say("card.cut.torsion", { cut: amount(setUp.cutLength), free: amount(setUp.freeLength) }));
      if (setUp.freeLength !== undefined)
        both(
          "freeLength",
          say(setUp.freeLengthFits === false ? "card.freeLengthFar" : "card.freeLengthText", {
            free: amount(setUp.freeLength),
            tester: setUp.tester ?? "",
          }),
        );
      both("weights", weightsText(setUp, say));
      const speed = setUp.speed;
      both(
        "speed",
        speed === undefined ? say("card.speedFree") : say(speed.advised ? "card.speedAdvised" : "card.speedMost", { speed: speed.most }),
      );
      if (turns === undefined) fact("run", say("card.run.open"));
      else {
        fact("run", say("card.run.torsion", { turns }));
        fact("count", say("card.count.torsion", { turns }));
        if (setUp.gripDistance !== undefined) fact("grip", say("card.grip.torsion", { turns, distance: amount(setUp.gripDistance) }));
      }
      fact("face", say("card.face.torsion"));
      fact("keep", say("card.keepText"));
      return brief;
    }
    case "wrap":
    case "coiling": {
      machine();
      if (setUp.cutLength !== undefined) fact("cut", say("card.cut.length", { cut: amount(setUp.cutLength) }));
      if (setUp.mandrel !== undefined)
        both(
          "mandrel",
          setUp.mandrelMax === undefined
            ? say("card.mandrelText", { mandrel: amount(setUp.mandrel) })
            : say("card.mandrelRange", { mandrel: figure(say, setUp.mandrel.text), most: amount(setUp.mandrelMax) }),
        );
      if (setUp.wraps !== undefined) both("wraps", say("card.wrapsText", { wraps: setUp.wraps }));
      if (setUp.rate !== undefined) both("rate", say("card.rateText", { rate: setUp.rate }));
      fact(
        "face",
        say(setUp.property === "adherence" ? "card.face.adherence" : setUp.sheet === "coiling" ? "card.face.coiling" : "card.face.wrap"),
      );
      fact("keep", say("card.keepText"));
      return brief;
    }
    case "tensile":
      machine();
      fact("cut", say("card.cut.tensile"));
      fact("measure", say("card.measure.tensile"));
      if (setUp.forceAtMin !== undefined)
        both(
          "force",
          setUp.forceAtMax === undefined
            ? say("card.forceLow", { low: amount(setUp.forceAtMin) })
            : say("card.forceText", { low: amount(setUp.forceAtMin), high: amount(setUp.forceAtMax) }),
        );
      fact("grip", say("card.grip.tensile"));
      fact("keep", say("card.keepText"));
      return brief;
    case "diameter":
      fact("measure", say("card.measure.diameter"));
      return [];
    case "coating-mass":
      fact("measure", say("card.measure.coating"));
      return [];
    case "reverse-bend":
      machine();
      if (setUp.requirement.conditions.radius !== undefined) both("mandrel", amount(setUp.requirement.conditions.radius));
      fact("count", say("card.count.bends"));
      return brief;
    default:
      return [];
  }
}

function weightsText({ tension, weights }: SetUp, say: Say): string {
  if (tension === undefined) return say("card.weightsNone");
  const band = { least: measureText(say, tension.leastMass), most: measureText(say, tension.mostMass) };
  return weights === undefined
    ? say("card.weightsBand", { ...band, force: measureText(say, tension.most) })
    : say("card.weightsText", { ...band, names: weights.names.join(" + "), total: measureText(say, weights.total) });
}

/** Usual cautions beside the step they belong to: common practice, no source. */
function cautionsOf(sheet: SetUp["sheet"]): readonly string[] {
  switch (sheet) {
    case "torsion":
      return ["caution.strap", "caution.guard", "caution.gloves", "caution.eyes", "caution.weight", "caution.hot", "caution.lock"];
    case "wrap":
    case "coiling":
      return ["caution.strap", "caution.guard", "caution.gloves", "caution.eyes", "caution.slivers", "caution.lock"];
    case "tensile":
    case "reverse-bend":
      return ["caution.strap", "caution.guard", "caution.eyes"];
    case "coating-mass":
      return ["caution.acid", "caution.eyes", "caution.slivers"];
    default:
      return ["caution.strap", "caution.eyes"];
  }
}
