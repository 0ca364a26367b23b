import { type Contradiction, entriesOf, keyOf, numberOf, textOf } from "../limits/faulty-file.ts";
import { plateLimitsNotKept } from "./measure/gas/iso-5167.ts";

type Path = readonly (string | number)[];

const OF_BORE = ["bore", "bore_uncertainty"];
const OF_CALIBRATION = ["coefficient_uncertainty", "calibrated", "calibration_due"];

/** Which way of getting the flow a station file names; undefined where it names none. */
export function flowFromKind(file: unknown): "gauge" | "plenum_orifices" | "plate_in_pipe" | undefined {
  const from = keyOf(file, "flow_from");
  if (from === "gauge" || from === "plenum_orifices") return from;
  return keyOf(from, "plate_in_pipe") === undefined ? undefined : "plate_in_pipe";
}

/** What orifices, plate and flow_from say against one another. It is given the file with its faults. */
export function flowContradictions(file: unknown): Contradiction[] {
  const needsBores = flowFromKind(file) === "plenum_orifices";
  return [
    ...entriesOf(file, "orifices").flatMap(([name, settings]) =>
      orificeContradictions(settings, ["orifices", name], needsBores),
    ),
    ...plateContradictions(keyOf(keyOf(file, "flow_from"), "plate_in_pipe"), ["flow_from", "plate_in_pipe"]),
  ];
}

function orificeContradictions(settings: unknown, path: Path, needsBores: boolean): Contradiction[] {
  const has = (key: string) => keyOf(settings, key) !== undefined;
  if (keyOf(settings, "output") === null) {
    const [first] = [...OF_BORE, "coefficient", ...OF_CALIBRATION].filter(has);
    if (first === undefined) return [];
    const expected = `no ${first}: an orifice without an output is a closed inlet`;
    return [{ path: [...path, first], isAboutKey: true, found: "a closed inlet with it", expected }];
  }
  const bore = 'a bore with its unit, like "16.5 mm"';
  const problems: Contradiction[] = [];
  if (!has("bore")) {
    const [of] = ["bore_uncertainty", "coefficient"].filter(has);
    const why = of === undefined ? "since flow_from is plenum_orifices" : `which ${of} belongs to`;
    const hasOutput = textOf(settings, "output") !== undefined;
    if (of !== undefined || (needsBores && hasOutput)) {
      problems.push({ path: [...path, "bore"], expected: `${bore}, ${why}` });
    }
  } else if (!has("bore_uncertainty")) {
    const expected = 'the bore\'s standard uncertainty, like "0.01 mm"';
    problems.push({ path: [...path, "bore_uncertainty"], expected });
  }
  return [...problems, ...calibrationContradictions(settings, path)];
}

/** A coefficient comes from a calibration, with its uncertainty and dates, or not at all. */
function calibrationContradictions(settings: unknown, path: Path): Contradiction[] {
  const has = (key: string) => keyOf(settings, key) !== undefined;
  if (!has("coefficient")) {
    const [of] = OF_CALIBRATION.filter(has);
    if (of === undefined) return [];
    return [{ path: [...path, "coefficient"], expected: `the calibrated coefficient that ${of} belongs to` }];
  }
  const lacking = OF_CALIBRATION.filter((key) => !has(key)).map((key) => ({
    path: [...path, key],
    expected: `${key} of the coefficient's calibration`,
  }));
  const calibrated = textOf(settings, "calibrated");
  const due = textOf(settings, "calibration_due");
  if (calibrated === undefined || due === undefined || due > calibrated) return lacking;
  return [...lacking, { path: [...path, "calibration_due"], expected: `a day after ${calibrated}` }];
}

function plateContradictions(plate: unknown, path: Path): Contradiction[] {
  if (plate === undefined) return [];
  return [...plateSizes(plate, path), ...calibrationContradictions(plate, path)];
}

function plateSizes(plate: unknown, path: Path): Contradiction[] {
  const pipe_m = numberOf(plate, "pipe");
  const bore_m = numberOf(plate, "bore");
  if (pipe_m === undefined || bore_m === undefined) return [];
  if (bore_m >= pipe_m) return [{ path: [...path, "bore"], expected: "a bore narrower than the pipe" }];
  // With a coefficient of its own a plate does not rest on the standard's.
  if (keyOf(plate, "coefficient") !== undefined) return [];
  return plateLimitsNotKept({ pipe_m, bore_m }).map((sentence) => ({
    path,
    isAboutKey: true,
    found: "a plate out of the standard's range",
    expected: "one that ISO 5167-2 holds for, or a calibrated coefficient",
    hint: sentence.replace(/\.$/, ""),
  }));
}
