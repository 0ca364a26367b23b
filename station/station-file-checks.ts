import { type AnyGaugeProfile, type AnyIoBlockProfile, isGauge, type Profile } from "../drivers/profile.ts";
import { type Contradiction, entriesOf, keyOf, textOf } from "../limits/faulty-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { nearest } from "../limits/nearest.ts";
import { dimensionHelp, findUnit } from "../limits/quantity.ts";
import { badgeClashes } from "./badge-clashes.ts";
import { SAFE_LEVELS } from "./cycle/unit-orders.ts";
import { labelMismatches } from "./label-settings.ts";
import { missingOrifices } from "./limit-orifices.ts";
import {
  CHANNEL_DIMENSIONS,
  isStationChannel,
  STATION_CHANNELS,
  type StationChannel,
} from "./station-channels.ts";
import { flowContradictions, flowFromKind } from "./station-flow-checks.ts";
import { referenceContradictions, referenceMismatches } from "./station-reference-checks.ts";

/** What the files beside the station file say. */
export interface Surroundings {
  /** Only on simulated cables a memory transport ends somewhere. */
  readonly cables: "real" | "simulated";
  profile(name: string): ProfileLookup;
  limits(folder: string): LimitsLookup;
  /** @returns where a part of a limit file stands, as file:line:column */
  placeIn(limits: ModelLimits, path: Path): string;
}

type Path = readonly (string | number)[];

/** "faulty": it is there and its own mistakes are named elsewhere. */
export type ProfileLookup =
  | { readonly kind: "found"; readonly profile: Profile }
  | { readonly kind: "missing"; readonly known: readonly string[] }
  | { readonly kind: "unreadable"; readonly why: string }
  | { readonly kind: "faulty" };

export type LimitsLookup =
  | {
      readonly kind: "found";
      readonly models: readonly ModelLimits[];
      /** Models of faulty limit files; null when one doesn't even say its model. */
      readonly faulty: readonly string[] | null;
    }
  | { readonly kind: "missing"; readonly found: string; readonly expected: string };

const OWN_OUTPUTS = Object.keys(SAFE_LEVELS);
const INPUTS = ["guard", "start"];
/** Names of the station, its instruments, orifices and reference pieces. */
export const SHORT_NAME = {
  pattern: /^[A-Za-z0-9][A-Za-z0-9 ._-]{0,60}$/,
  words: "a short name of letters, digits, spaces, . _ -",
};

/** What the keys of a station file say against one another. It is given the file with its faults. */
export function stationContradictions(file: unknown): Contradiction[] {
  return [
    ...badNames(file, "orifices"),
    ...badNames(file, "gauges"),
    ...orificeContradictions(file),
    ...flowContradictions(file),
    ...channelContradictions(file),
    ...referenceContradictions(file),
  ];
}

/** What a station file says against profiles and limit files. It is given the file with its faults. */
export function mismatches(file: unknown, around: Surroundings): Contradiction[] {
  const gauges = entriesOf(file, "gauges");
  return [
    ...gauges.flatMap(([name, settings]) => gaugeMismatches(settings, ["gauges", name], around)),
    ...ioBlockMismatches(file, around),
    ...limitMismatches(file, around),
  ];
}

function badNames(file: unknown, section: string): Contradiction[] {
  return entriesOf(file, section).flatMap(([name]) =>
    SHORT_NAME.pattern.test(name)
      ? []
      : [
          {
            path: [section, name],
            isAboutKey: true,
            found: JSON.stringify(name),
            expected: SHORT_NAME.words,
          },
        ],
  );
}

function orificeContradictions(file: unknown): Contradiction[] {
  const holder = new Map<string, string>();
  return entriesOf(file, "orifices").flatMap(([name, settings]): Contradiction[] => {
    const output = textOf(settings, "output");
    if (output === undefined) return [];
    const path = ["orifices", name, "output"];
    if (OWN_OUTPUTS.includes(output)) {
      return [{ path, expected: `an output for this orifice alone, not one of ${OWN_OUTPUTS.join(", ")}` }];
    }
    const other = holder.get(output);
    if (other === undefined) holder.set(output, name);
    else {
      const found = `${JSON.stringify(output)}, which opens the orifice ${other}`;
      return [{ path, found, expected: "an output for this orifice alone" }];
    }
    return [];
  });
}

function channelContradictions(file: unknown): Contradiction[] {
  const gauges = entriesOf(file, "gauges");
  return STATION_CHANNELS.flatMap((channel): Contradiction[] => {
    const having = gauges.filter(([, settings]) => keyOf(keyOf(settings, "channels"), channel) !== undefined);
    const need = needOf(file, channel);
    if (need.kind === "none") {
      return having.map(([name]) => ({
        path: ["gauges", name, "channels", channel],
        isAboutKey: true,
        found: `the channel ${channel}`,
        expected: `none of that name, since ${need.since}`,
      }));
    }
    if (having.length === 0) {
      if (need.kind === "one at most") return [];
      const expected = `exactly one gauge with the channel ${channel}`;
      return [{ path: ["gauges"], found: "none", expected }];
    }
    return having.slice(1).map(([name]) => ({
      path: ["gauges", name, "channels", channel],
      isAboutKey: true,
      found: `a channel that ${having[0]?.[0]} has too`,
      expected: `exactly one gauge with the channel ${channel}`,
    }));
  });
}

type Need = { readonly kind: "one" | "one at most" } | { readonly kind: "none"; readonly since: string };

/** How many gauges may have a channel. Where the file does not say what decides it, any number of one. */
function needOf(file: unknown, channel: StationChannel): Need {
  switch (channel) {
    case "flow":
    case "flow_drop": {
      const from = flowFromKind(file);
      const own = from === "gauge" ? "flow" : "flow_drop";
      if (from === undefined || (from === "plenum_orifices" && channel === "flow"))
        return { kind: "one at most" };
      if (from !== "plenum_orifices" && channel === own) return { kind: "one" };
      return { kind: "none", since: `flow_from is ${from}` };
    }
    case "ambient_temperature":
    case "ambient_pressure":
    case "ambient_humidity": {
      const ambient = keyOf(file, "ambient");
      if (ambient === "instrument") return { kind: "one" };
      if (keyOf(ambient, "entered") === undefined) return { kind: "one at most" };
      return { kind: "none", since: "the room's air is entered" };
    }
    default:
      return { kind: "one" };
  }
}

function gaugeMismatches(settings: unknown, path: Path, around: Surroundings): Contradiction[] {
  const { problems, profile } = instrumentProfile(settings, path, around, "gauge");
  if (!profile || !isGauge(profile)) return problems;
  const hasIdentity = textOf(settings, "identity") !== undefined && profile.identity === undefined;
  return [
    ...problems,
    ...entriesOf(settings, "channels").flatMap(([channel]) => channelMismatches(channel, path, profile)),
    ...(hasIdentity
      ? [
          {
            path: [...path, "identity"],
            expected: `no identity, because the profile ${profile.name} does not ask for one`,
          },
        ]
      : []),
  ];
}

function channelMismatches(channel: string, path: Path, profile: AnyGaugeProfile): Contradiction[] {
  if (!isStationChannel(channel)) return [];
  const where = { path: [...path, "channels", channel], isAboutKey: true };
  const delivered = profile.channels.find(({ name }) => name === channel);
  const names = profile.channels.map(({ name }) => name).join(", ");
  if (!delivered) {
    const found = `a channel that the profile ${profile.name} does not deliver`;
    return [{ ...where, found, expected: `one of ${names}` }];
  }
  const dimension = CHANNEL_DIMENSIONS[channel];
  if (findUnit(delivered.unit.symbol, dimension).ok) return [];
  const found = `a channel that the profile ${profile.name} delivers in ${delivered.unit.symbol}`;
  return [{ ...where, found, expected: dimensionHelp(dimension).expected }];
}

function ioBlockMismatches(file: unknown, around: Surroundings): Contradiction[] {
  const settings = keyOf(file, "io_block");
  const { problems, profile } = instrumentProfile(settings, ["io_block"], around, "io_block");
  if (!profile || isGauge(profile)) return problems;
  return [...problems, ...lacking(profile), ...outputMismatches(file, profile)];
}

function lacking(profile: AnyIoBlockProfile): Contradiction[] {
  const lacks = [
    ...OWN_OUTPUTS.filter((name) => !profile.outputs.includes(name)).map((name) => `output ${name}`),
    ...INPUTS.filter((name) => !profile.inputs.includes(name)).map((name) => `input ${name}`),
  ];
  return lacks.map((what) => ({
    path: ["io_block", "profile"],
    found: `${profile.name}, which has no ${what}`,
    expected: `a profile with the outputs ${OWN_OUTPUTS.join(", ")} and the inputs ${INPUTS.join(", ")}`,
  }));
}

function outputMismatches(file: unknown, profile: AnyIoBlockProfile): Contradiction[] {
  const free = profile.outputs.filter((name) => !OWN_OUTPUTS.includes(name));
  return entriesOf(file, "orifices").flatMap(([name, orifice]): Contradiction[] => {
    const output = textOf(orifice, "output");
    if (output === undefined || OWN_OUTPUTS.includes(output) || free.includes(output)) return [];
    const expected = `one of the profile's outputs ${free.join(", ") || "(none is left)"}`;
    return [{ path: ["orifices", name, "output"], expected, ...meant(output, free) }];
  });
}

function instrumentProfile(
  settings: unknown,
  path: Path,
  around: Surroundings,
  kind: "gauge" | "io_block",
): { problems: Contradiction[]; profile?: Profile } {
  const problems: Contradiction[] = [];
  if (around.cables === "real" && keyOf(keyOf(settings, "transport"), "kind") === "memory") {
    const expected =
      '"serial" or "tcp"; only simulated stations have a memory transport, and the demo plant runs with drumtight run --simulate';
    problems.push({ path: [...path, "transport", "kind"], expected });
  }
  const name = textOf(settings, "profile");
  const lookup = name === undefined ? undefined : around.profile(name);
  const where = { path: [...path, "profile"] };
  if (name !== undefined && lookup?.kind === "missing") {
    const expected = `one of the profiles ${lookup.known.join(", ") || "(there are none)"}`;
    problems.push({ ...where, expected, ...meant(name, lookup.known) });
  }
  if (lookup?.kind === "unreadable") problems.push({ ...where, expected: lookup.why });
  if (lookup?.kind !== "found") return { problems };
  if (isGauge(lookup.profile) === (kind === "gauge")) return { problems, profile: lookup.profile };
  const [found, expected] = kind === "gauge" ? ["an I/O block", "a gauge"] : ["a gauge", "an I/O block"];
  problems.push({ ...where, found: `${name}, which is for ${found}`, expected: `a profile for ${expected}` });
  return { problems };
}

function limitMismatches(file: unknown, around: Surroundings): Contradiction[] {
  const folder = textOf(file, "limits");
  if (folder === undefined) return [];
  const limits = around.limits(folder);
  if (limits.kind === "missing") {
    const found = `${JSON.stringify(folder)}, where there is ${limits.found}`;
    return [{ path: ["limits"], found, expected: limits.expected }];
  }
  const { models, faulty } = limits;
  return [
    ...models.flatMap((model) => orificeMismatches(file, model, around)),
    ...referenceMismatches(file, models, faulty),
    ...labelMismatches(file, models, faulty),
    ...badgeClashes(file, models),
  ];
}

function orificeMismatches(file: unknown, limits: ModelLimits, around: Surroundings): Contradiction[] {
  if (keyOf(file, "orifices") === undefined) return [];
  const known = entriesOf(file, "orifices").map(([name]) => name);
  return missingOrifices(limits, known).map(({ orifice, path }) => ({
    path: ["orifices"],
    isAboutKey: true,
    found: `no orifice ${orifice}, which ${around.placeIn(limits, path)} asks for`,
    expected: "every orifice of the limit files",
    ...meant(orifice, known),
  }));
}

function meant(word: string, candidates: readonly string[]): Pick<Contradiction, "hint"> {
  const near = nearest(word, candidates);
  return near === undefined ? {} : { hint: `did you mean ${near}?` };
}
