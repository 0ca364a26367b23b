import { CIPM_RELATIVE_UNCERTAINTY, moistAir, STANDARD_DENSITY_kg_m3 } from "../air/moist-air.ts";
import type { UncertainInput } from "../fit/propagation.ts";
import { PLENUM_EXPANSION_UNCERTAINTY } from "../gas/plenum-orifice.ts";
import type { AirflowChannel, AirflowConditions, MeanReading, PointMeans } from "./airflow-evidence.ts";
import { type DrawnAir, pipeFlow_m3_s, plateUncertainty, plenumFlow_m3_s } from "./flow-at-point.ts";
import { standardFactors } from "./standard-conditions.ts";

/** One point, as measured or at standard conditions. */
export interface PointValues {
  readonly suction_Pa: number;
  readonly flow_m3_s: number;
  readonly power_W: number;
}

export interface PointState {
  readonly asMeasured: PointValues & { readonly voltage_V: number };
  /** What is stated: at standard conditions, or as measured where nothing is corrected. */
  readonly stated: PointValues;
}

/** The way from readings to points, ready to be gone with other values of its inputs. */
export interface AirflowModel {
  readonly inputs: readonly UncertainInput[];
  /** By input: the only point it belongs to; null for what all points share. */
  readonly owners: readonly (number | null)[];
  readonly stateAt: (estimates: readonly number[]) => {
    readonly density_kg_m3: number;
    readonly points: readonly PointState[];
  };
}

type Estimates = readonly number[];
type Reader = (x: Estimates) => number;

/**
 * Every input of the calculation, once, and the calculation. What points share (a gauge's constant part and its part of
 * the reading, an orifice, the room, the exponents) is one input, so that their correlation is kept.
 * @throws RangeError, one sentence, where a reading, an orifice or a channel's uncertainty is missing
 */
export function airflowModel(points: readonly PointMeans[], conditions: AirflowConditions): AirflowModel {
  const list = new InputList();
  for (const { point, voltage_V } of points) {
    if (!(voltage_V.mean > 0)) throw new RangeError(`Point ${point}: a voltage of ${voltage_V.mean} V.`);
  }
  const room = roomReader(list, conditions);
  const gauges = new Map<AirflowChannel, (reading: Reader) => Reader>();
  const read = (channel: AirflowChannel, index: number, reading: MeanReading | null): Reader => {
    const point = points[index]?.point ?? "";
    if (!reading) throw new RangeError(`Point ${point}: nothing was read of ${channel}.`);
    const correct = gauges.get(channel) ?? gaugeReader(list, channel, conditions);
    gauges.set(channel, correct);
    const component = `${channel.replace("_", " ")} at ${point}, scatter`;
    const unit = CHANNEL_UNITS[channel];
    return correct(
      list.add({ component, estimate: reading.mean, uncertainty: reading.uncertainty, unit }, index),
    );
  };
  const readers = points.map((means, index) => ({
    suction: read("suction", index, means.suction_Pa),
    power: read("power", index, means.power_W),
    // Without a correction the voltage changes nothing, and a station may leave its calibration out.
    voltage: conditions.correction ? read("voltage", index, means.voltage_V) : () => means.voltage_V.mean,
  }));
  const flows = flowReaders(list, points, conditions, {
    read,
    room,
    suctions: readers.map((r) => r.suction),
  });
  const factors = factorsReader(list, conditions);
  return {
    inputs: list.inputs,
    owners: list.owners,
    stateAt: (x) => {
      const air = room(x);
      const states = readers.map(({ suction, power, voltage }, i): PointState => {
        const suction_Pa = suction(x);
        const flow_m3_s = flows[i]?.(x, air) ?? Number.NaN;
        const asMeasured = { suction_Pa, flow_m3_s, power_W: power(x), voltage_V: voltage(x) };
        const factor = factors(x, air.density_kg_m3, asMeasured.voltage_V);
        return {
          asMeasured,
          stated: {
            suction_Pa: suction_Pa * factor.suction,
            flow_m3_s: flow_m3_s * factor.flow,
            power_W: asMeasured.power_W * factor.power,
          },
        };
      });
      return { density_kg_m3: air.density_kg_m3, points: states };
    },
  };
}

const CHANNEL_UNITS: Readonly<Record<AirflowChannel, string>> = {
  suction: "Pa",
  flow: "m3/s",
  flow_drop: "Pa",
  power: "W",
  voltage: "V",
};

class InputList {
  readonly inputs: UncertainInput[] = [];
  readonly owners: (number | null)[] = [];

  add(input: UncertainInput, owner: number | null = null): Reader {
    const index = this.inputs.push(input) - 1;
    this.owners.push(owner);
    return (x) => x[index] ?? Number.NaN;
  }
}

function gaugeReader(
  list: InputList,
  channel: AirflowChannel,
  { channels }: AirflowConditions,
): (reading: Reader) => Reader {
  const known = channels.get(channel);
  if (!known) throw new RangeError(`The uncertainty of the channel ${channel} is not known.`);
  const gauge = `${channel.replace("_", " ")} gauge`;
  const zero = list.add({
    component: `${gauge}, constant part`,
    estimate: 0,
    uncertainty: known.absolute,
    unit: CHANNEL_UNITS[channel],
  });
  const slope = list.add({
    component: `${gauge}, part of reading`,
    estimate: 0,
    uncertainty: known.relative,
    unit: "1",
  });
  return (reading) => (x) => reading(x) * (1 + slope(x)) + zero(x);
}

function roomReader(list: InputList, { room }: AirflowConditions): (x: Estimates) => DrawnAir {
  const temperature = list.add({
    component: "room temperature",
    estimate: room.temperature_K,
    uncertainty: room.temperatureUncertainty_K,
    unit: "K",
  });
  const pressure = list.add({
    component: "barometric pressure",
    estimate: room.pressure_Pa,
    uncertainty: room.pressureUncertainty_Pa,
    unit: "Pa",
  });
  const humidity = list.add({
    component: "relative humidity",
    estimate: room.relativeHumidity,
    uncertainty: room.relativeHumidityUncertainty,
    unit: "1",
  });
  const equation = list.add({
    component: "CIPM-2007 equation",
    estimate: 0,
    uncertainty: CIPM_RELATIVE_UNCERTAINTY,
    unit: "1",
  });
  return (x) => {
    const temperature_K = temperature(x);
    const pressure_Pa = pressure(x);
    // Varied by its uncertainty, a very dry or damp room's humidity would leave its scale.
    const relativeHumidity = Math.min(1, Math.max(0, humidity(x)));
    const { density_kg_m3 } = moistAir({ temperature_K, pressure_Pa, relativeHumidity });
    return { temperature_K, pressure_Pa, density_kg_m3: density_kg_m3 * (1 + equation(x)) };
  };
}

function factorsReader(list: InputList, { correction, supplyVoltage_V }: AirflowConditions) {
  if (!correction) return () => ({ flow: 1, suction: 1, power: 1 });
  const exponent = (component: string, estimate: number) =>
    list.add({ component, estimate, uncertainty: correction.exponentUncertainty, unit: "1" });
  const perDensity = exponent("motor speed's exponent of density", correction.speedPerDensity);
  const perVoltage = exponent("motor speed's exponent of voltage", correction.speedPerVoltage);
  return (x: Estimates, density_kg_m3: number, voltage_V: number) =>
    standardFactors(
      { density: density_kg_m3 / STANDARD_DENSITY_kg_m3, voltage: voltage_V / supplyVoltage_V },
      { speedPerDensity: perDensity(x), speedPerVoltage: perVoltage(x) },
    );
}

interface FlowSources {
  readonly read: (channel: AirflowChannel, index: number, reading: MeanReading | null) => Reader;
  readonly room: (x: Estimates) => DrawnAir;
  readonly suctions: readonly Reader[];
}

type FlowReader = (x: Estimates, air: DrawnAir) => number;

function flowReaders(
  list: InputList,
  points: readonly PointMeans[],
  conditions: AirflowConditions,
  { read, room, suctions }: FlowSources,
): FlowReader[] {
  const { flowFrom } = conditions;
  if (flowFrom.kind === "gauge") return points.map(({ flow_m3_s }, i) => read("flow", i, flow_m3_s));
  if (flowFrom.kind === "plenum") return plenumFlows(list, points, flowFrom.orifices, suctions);

  const { plate, closed } = flowFrom;
  const drops = points.map(({ orifice, drop_Pa }, i) =>
    closed.has(orifice) ? null : read("flow_drop", i, drop_Pa),
  );
  const bore = sizeReader(list, "bore of the plate", plate.bore_m, plate.boreUncertainty_m);
  const pipe = sizeReader(list, "bore of the pipe", plate.pipe_m, plate.pipeUncertainty_m);
  const calibrated = plate.coefficient
    ? list.add({
        component: "coefficient of the plate",
        estimate: plate.coefficient.value,
        uncertainty: plate.coefficient.uncertainty,
        unit: "1",
      })
    : null;
  const estimates = list.inputs.map(({ estimate }) => estimate);
  const air = room(estimates);
  const vouched = drops.map((drop) =>
    drop ? plateUncertainty(plate, plate.coefficient?.value ?? null, drop(estimates), air) : 0,
  );
  const component = "flow by ISO 5167-2";
  const uncertainty = Math.max(0, ...vouched.filter((relative) => relative !== null));
  const standard = list.add({ component, estimate: 0, uncertainty, unit: "1" });
  return drops.map((drop, i): FlowReader => {
    if (!drop) return () => 0;
    const unvouched = {
      component: `${component} at ${points[i]?.point}, outside its limits`,
      estimate: 0,
      uncertainty: UNVOUCHED,
      unit: "1",
    };
    const relative = vouched[i] === null ? list.add(unvouched, i) : standard;
    return (x, drawn) => {
      const size = { pipe_m: pipe(x), bore_m: bore(x), taps: plate.taps };
      return pipeFlow_m3_s(size, calibrated?.(x) ?? null, drop(x), drawn) * (1 + relative(x));
    };
  });
}

/** Relative standard uncertainty of a flow that ISO 5167-2 does not vouch for (common practice, no source). */
const UNVOUCHED = 0.05;

function plenumFlows(
  list: InputList,
  points: readonly PointMeans[],
  orifices: Extract<AirflowConditions["flowFrom"], { kind: "plenum" }>["orifices"],
  suctions: readonly Reader[],
): FlowReader[] {
  const known = new Map<string, FlowOfDrop>();
  const isOpen = points.some(({ orifice }) => orifices.get(orifice));
  const expansion = isOpen ? expansionReader(list) : () => 0;
  return points.map(({ orifice: name }, i) => {
    const orifice = orifices.get(name);
    if (orifice === undefined) throw new RangeError(`The orifice ${name} is not known.`);
    if (orifice === null) return () => 0;
    const users = points.filter((other) => other.orifice === name).length;
    const owner = users === 1 ? i : null;
    const flow = known.get(name) ?? orificeReader(list, name, orifice, owner);
    known.set(name, flow);
    return (x, air) => {
      const drop_Pa = suctions[i]?.(x) ?? Number.NaN;
      return flow(x, drop_Pa, air) * (1 + (expansion(x) * drop_Pa) / air.pressure_Pa);
    };
  });
}

/** As a part of dp/p1, since no orifice has anything to expand without a drop. */
function expansionReader(list: InputList): Reader {
  return list.add({
    component: "expansion of the air in the orifices",
    estimate: 0,
    uncertainty: PLENUM_EXPANSION_UNCERTAINTY,
    unit: "1",
  });
}

type FlowOfDrop = (x: Estimates, drop_Pa: number, air: DrawnAir) => number;

function orificeReader(
  list: InputList,
  name: string,
  orifice: {
    readonly bore_m: number;
    readonly boreUncertainty_m: number;
    readonly coefficient: number;
    readonly coefficientUncertainty: number;
    readonly isCalibrated: boolean;
  },
  owner: number | null,
): FlowOfDrop {
  const boreUncertainty_m = orifice.isCalibrated ? 0 : orifice.boreUncertainty_m;
  const bore = sizeReader(list, `bore of the orifice ${name}`, orifice.bore_m, boreUncertainty_m, owner);
  const coefficient = list.add(
    {
      component: `coefficient of the orifice ${name}`,
      estimate: orifice.coefficient,
      uncertainty: orifice.coefficientUncertainty,
      unit: "1",
    },
    owner,
  );
  return (x, drop_Pa, air) => plenumFlow_m3_s({ bore_m: bore(x), coefficient: coefficient(x) }, drop_Pa, air);
}

function sizeReader(
  list: InputList,
  component: string,
  estimate: number,
  uncertainty: number,
  owner: number | null = null,
): Reader {
  return list.add({ component, estimate, uncertainty, unit: "m" }, owner);
}
