import { GAS_CONSTANT_J_kgK, HEAT_RATIO, REFERENCE_PRESSURE_Pa, REFERENCE_TEMPERATURE_K } from "./gas.ts";
import { Integrator } from "./integrator.ts";
import { type LeakPath, pathsMassFlow, valveMassFlow } from "./leak-path.ts";
import type { Room } from "./room.ts";

/** A closed body on the fixture. */
export interface HousingBody {
  readonly volume_m3: number;
  /** Volume gained per pascal of gauge pressure at once, and slowly with the time constant. */
  readonly elasticCompliance_m3_Pa: number;
  readonly creepCompliance_m3_Pa: number;
  readonly creepTau_s: number;
  /** Time constant of the gas temperature towards the wall at fixed volume; Infinity is adiabatic. */
  readonly thermalTau_s: number;
  /** How much warmer than the room the wall is when the body is put on; fades as the body cools. */
  readonly wallOffset_K: number;
  readonly leakPaths: readonly LeakPath[];
}

/** What the body is connected to. */
export interface Fixture {
  /** Hose and fittings between the isolating valve and the body; vent and gauge are connected to them. */
  readonly volume_m3: number;
  readonly leakPaths: readonly LeakPath[];
  readonly ventArea_m2: number;
  /** The source's reservoir, and what its regulator passes per pascal of droop. */
  readonly reservoir_m3: number;
  readonly regulator_kg_sPa: number;
}

/** What the adapter plate of a model sets: gauge pressure of the regulated source, and the fill restrictor. */
export interface SourceSetting {
  readonly pressure_Pa: number;
  readonly restrictorArea_m2: number;
}

export interface Valves {
  /** Source connected. */
  readonly source: boolean;
  /** Open between source and body. */
  readonly isolate: boolean;
  readonly vent: boolean;
}

export interface HousingState {
  /** Gauge pressure at the body, and at the regulated source. */
  readonly pressure_Pa: number;
  readonly source_Pa: number;
  readonly temperature_K: number;
  readonly mass_kg: number;
  readonly volume_m3: number;
}

const HEAT_AT_CONSTANT_VOLUME_J_kgK = GAS_CONSTANT_J_kgK / (HEAT_RATIO - 1);
const HEAT_AT_CONSTANT_PRESSURE_J_kgK = HEAT_AT_CONSTANT_VOLUME_J_kgK * HEAT_RATIO;
/** A warm body takes a quarter of an hour to reach the room's temperature (common practice, no source). */
const WALL_TAU_s = 900;
/** Air in a narrow hose takes its wall's temperature at once, against that in a body (common practice, no source). */
const HOSE_THERMAL_TAU_s = 0.3;
/** What valves, vent and gauge find where a hose leads to no body. */
const HOSE_END: HousingBody = {
  volume_m3: 0,
  elasticCompliance_m3_Pa: 0,
  creepCompliance_m3_Pa: 0,
  creepTau_s: 1,
  thermalTau_s: HOSE_THERMAL_TAU_s,
  wallOffset_K: 0,
  leakPaths: [],
};
const TOLERANCE_Pa = 0.001;
const LONGEST_STEP_s = 0.25;

// Places in the integrated state.
const MASS = 0;
const TEMPERATURE = 1;
const CREEP = 2;
const SOURCE = 3;

/**
 * Body and fixture as one volume of ideal gas: mass balance over valves and leaks, energy balance with the wall,
 * a wall that gives way at once and slowly. p V = m R T;
 * m cv dT/dt = sum_in(m (cp T_room - cv T)) - sum_out(m R T) + UA (T_wall - T) - p dV/dt.
 * @see any thermodynamics text, control volume with uniform state ("charging and discharging of rigid vessels")
 */
export class Housing {
  readonly #room: Room;
  readonly #fixture: Fixture;
  readonly #integrator: Integrator;
  readonly #scratch = new Float64Array(4);
  #body: HousingBody | null = null;
  #mounted_s: number;
  #setting: SourceSetting = { pressure_Pa: 0, restrictorArea_m2: 0 };
  #valves: Valves = { source: false, isolate: false, vent: true };
  #fixtureFault_m2 = 0;
  #ventPart = 1;
  /** Air shut up in a body that is cut off; null while the body is connected. */
  #cutOff: { readonly mass_kg: number; readonly temperature_K: number; readonly creep_m3: number } | null =
    null;

  /** @param tolerance_Pa largest error of one integration step; the default is far below any gauge's resolution */
  constructor(options: { room: Room; fixture: Fixture; t_s?: number; tolerance_Pa?: number }) {
    this.#room = options.room;
    this.#fixture = options.fixture;
    this.#mounted_s = options.t_s ?? 0;
    this.#integrator = new Integrator(this.#mounted_s, this.#atRest(this.#mounted_s), this.#derivative, {
      tolerance: options.tolerance_Pa ?? TOLERANCE_Pa,
      longestStep_s: LONGEST_STEP_s,
      errorOf: pressureError_Pa,
    });
  }

  get valves(): Valves {
    return this.#valves;
  }

  /** Derivative evaluations so far. */
  get evaluations(): number {
    return this.#integrator.evaluations;
  }

  /** Puts a body on, full of room air, or leaves the fixture bare and open. */
  mount(t_s: number, body: HousingBody | null, setting: SourceSetting = this.#setting): void {
    const wasCutOff = this.#cutOff !== null;
    this.#body = body;
    this.#cutOff = null;
    this.#mounted_s = t_s;
    this.#setting = setting;
    this.#integrator.restart(t_s, this.#atRest(t_s));
    this.setCutOff(t_s, wasCutOff);
  }

  /** Moves valves at this time; what stood before holds until then. */
  setValves(t_s: number, valves: Valves): void {
    const { source, isolate, vent } = this.#valves;
    if (source === valves.source && isolate === valves.isolate && vent === valves.vent) return;
    this.#integrator.stateAt(t_s, this.#scratch);
    this.#valves = valves;
    this.#integrator.restart(t_s, this.#scratch);
  }

  /** Changes what the source delivers at this time, as a worn pump or a turned regulator does. */
  setSource(t_s: number, setting: SourceSetting): void {
    this.#integrator.stateAt(t_s, this.#scratch);
    this.#setting = setting;
    this.#integrator.restart(t_s, this.#scratch);
  }

  /** A seal of the fixture gives way by this much effective area at this time, 0 makes it good again. */
  setFixtureLeak(t_s: number, effectiveArea_m2: number): void {
    this.#integrator.stateAt(t_s, this.#scratch);
    this.#fixtureFault_m2 = effectiveArea_m2;
    this.#integrator.restart(t_s, this.#scratch);
  }

  /** Dirt leaves this part of the vent's opening from this time on, 1 is a clean one. */
  setVentPart(t_s: number, part: number): void {
    if (part === this.#ventPart) return;
    this.#integrator.stateAt(t_s, this.#scratch);
    this.#ventPart = part;
    this.#integrator.restart(t_s, this.#scratch);
  }

  /**
   * The hose is shut between gauge and body, or open again: then the air of both mixes. What a body that is cut off leaks
   * meanwhile is not followed.
   */
  setCutOff(t_s: number, isCutOff: boolean): void {
    if (isCutOff === (this.#cutOff !== null)) return;
    const y = this.#scratch;
    this.#integrator.stateAt(t_s, y);
    const mass_kg = y[MASS] ?? 0;
    const temperature_K = y[TEMPERATURE] ?? 0;
    if (this.#cutOff) {
      const shutUp = this.#cutOff;
      this.#cutOff = null;
      y[MASS] = mass_kg + shutUp.mass_kg;
      y[TEMPERATURE] = (mass_kg * temperature_K + shutUp.mass_kg * shutUp.temperature_K) / y[MASS];
      y[CREEP] = shutUp.creep_m3;
    } else {
      const hosePart = this.#fixture.volume_m3 / this.stateAt(t_s).volume_m3;
      this.#cutOff = { mass_kg: mass_kg * (1 - hosePart), temperature_K, creep_m3: y[CREEP] ?? 0 };
      y[MASS] = mass_kg * hosePart;
      y[CREEP] = 0;
    }
    this.#integrator.restart(t_s, y);
  }

  /** Gas state at t_s, which may not lie before the last change. A bare fixture is at ambient. */
  stateAt(t_s: number): HousingState {
    const y = this.#scratch;
    this.#integrator.stateAt(t_s, y);
    const mass_kg = y[MASS] ?? 0;
    const temperature_K = y[TEMPERATURE] ?? 0;
    const ambient_Pa = this.#room.pressure_Pa(t_s);
    const pressure_Pa = this.#pressure_Pa(mass_kg, temperature_K, y[CREEP] ?? 0, ambient_Pa);
    return {
      pressure_Pa: this.#connected ? pressure_Pa - ambient_Pa : 0,
      source_Pa: y[SOURCE] ?? 0,
      temperature_K,
      mass_kg,
      volume_m3: (mass_kg * GAS_CONSTANT_J_kgK * temperature_K) / pressure_Pa,
    };
  }

  /** What the fixture is connected to; null is a bare fixture, open to the room. */
  get #connected(): HousingBody | null {
    return this.#cutOff ? HOSE_END : this.#body;
  }

  #restVolume_m3(): number {
    return (this.#connected?.volume_m3 ?? 0) + this.#fixture.volume_m3;
  }

  #wall_K(t_s: number): number {
    const fading = Math.exp(-(t_s - this.#mounted_s) / WALL_TAU_s);
    return this.#room.temperature_K(t_s) + (this.#connected?.wallOffset_K ?? 0) * fading;
  }

  #atRest(t_s: number): Float64Array {
    const temperature_K = this.#wall_K(t_s);
    const mass_kg =
      (this.#room.pressure_Pa(t_s) * this.#restVolume_m3()) / (GAS_CONSTANT_J_kgK * temperature_K);
    return Float64Array.of(mass_kg, temperature_K, 0, this.#setting.pressure_Pa);
  }

  /** Absolute pressure from p (V0 + creep + C (p - p_ambient)) = m R T. */
  #pressure_Pa(mass_kg: number, temperature_K: number, creep_m3: number, ambient_Pa: number): number {
    const compliance = this.#connected?.elasticCompliance_m3_Pa ?? 0;
    const work_J = mass_kg * GAS_CONSTANT_J_kgK * temperature_K;
    const linear_m3 = this.#restVolume_m3() + creep_m3 - compliance * ambient_Pa;
    return (2 * work_J) / (linear_m3 + Math.sqrt(linear_m3 * linear_m3 + 4 * compliance * work_J));
  }

  readonly #derivative = (t_s: number, y: Float64Array, out: Float64Array): void => {
    const body = this.#connected;
    const room_Pa = this.#room.pressure_Pa(t_s);
    const room_K = this.#room.temperature_K(t_s);
    const source_Pa = y[SOURCE] ?? 0;
    const sourceFlow = (this.#setting.pressure_Pa - source_Pa) * this.#fixture.regulator_kg_sPa;
    const reservoir_Pa_kg = (GAS_CONSTANT_J_kgK * room_K) / this.#fixture.reservoir_m3;
    if (!body) {
      out.fill(0);
      out[SOURCE] = reservoir_Pa_kg * sourceFlow;
      return;
    }
    const mass_kg = y[MASS] ?? 0;
    const temperature_K = y[TEMPERATURE] ?? 0;
    const creep_m3 = y[CREEP] ?? 0;
    const pressure_Pa = this.#pressure_Pa(mass_kg, temperature_K, creep_m3, room_Pa);
    const volume_m3 = (mass_kg * GAS_CONSTANT_J_kgK * temperature_K) / pressure_Pa;
    const inside = { pressure_Pa, temperature_K };
    const outside = { pressure_Pa: room_Pa, temperature_K: room_K };

    const leaking =
      pathsMassFlow(body.leakPaths, inside, outside) +
      pathsMassFlow(this.#fixture.leakPaths, inside, outside) +
      between(this.#fixtureFault_m2, inside, outside);
    const { source, isolate, vent } = this.#valves;
    const venting = vent ? between(this.#fixture.ventArea_m2 * this.#ventPart, inside, outside) : 0;
    const reservoir = { pressure_Pa: room_Pa + source_Pa, temperature_K: room_K };
    const toSource = source && isolate ? between(this.#setting.restrictorArea_m2, inside, reservoir) : 0;

    const outflow = Math.max(0, leaking) + Math.max(0, venting) + Math.max(0, toSource);
    const inflow = Math.max(0, -leaking) + Math.max(0, -venting) + Math.max(0, -toSource);
    const massRate = inflow - outflow;
    const wallConductance_W_K =
      (this.#restVolume_m3() * REFERENCE_DENSITY_kg_m3 * HEAT_AT_CONSTANT_VOLUME_J_kgK) / body.thermalTau_s;
    const heat_W =
      inflow * (HEAT_AT_CONSTANT_PRESSURE_J_kgK * room_K - HEAT_AT_CONSTANT_VOLUME_J_kgK * temperature_K) -
      outflow * GAS_CONSTANT_J_kgK * temperature_K +
      wallConductance_W_K * (this.#wall_K(t_s) - temperature_K);

    const gauge_Pa = pressure_Pa - room_Pa;
    const creepRate_m3_s = (body.creepCompliance_m3_Pa * gauge_Pa - creep_m3) / body.creepTau_s;
    const elastic = body.elasticCompliance_m3_Pa;
    const pressureRate_Pa_s =
      (GAS_CONSTANT_J_kgK * massRate * temperature_K +
        (HEAT_RATIO - 1) * heat_W -
        HEAT_RATIO * pressure_Pa * creepRate_m3_s) /
      (volume_m3 + HEAT_RATIO * pressure_Pa * elastic);
    const volumeRate_m3_s = elastic * pressureRate_Pa_s + creepRate_m3_s;

    out[MASS] = massRate;
    out[TEMPERATURE] = (heat_W - pressure_Pa * volumeRate_m3_s) / (mass_kg * HEAT_AT_CONSTANT_VOLUME_J_kgK);
    out[CREEP] = creepRate_m3_s;
    out[SOURCE] = reservoir_Pa_kg * (sourceFlow + toSource);
  };
}

const REFERENCE_DENSITY_kg_m3 = REFERENCE_PRESSURE_Pa / (GAS_CONSTANT_J_kgK * REFERENCE_TEMPERATURE_K);

interface Air {
  readonly pressure_Pa: number;
  readonly temperature_K: number;
}

/** Mass flow from inside to outside through a valve, kg/s, negative the other way. */
function between(area_m2: number, inside: Air, outside: Air): number {
  return inside.pressure_Pa >= outside.pressure_Pa
    ? valveMassFlow(area_m2, inside.pressure_Pa, outside.pressure_Pa, inside.temperature_K)
    : -valveMassFlow(area_m2, outside.pressure_Pa, inside.pressure_Pa, outside.temperature_K);
}

/** What an error in mass, temperature, volume and source comes to in pressure, taking air near 100 kPa. */
function pressureError_Pa(error: Float64Array, y: Float64Array): number {
  const mass = Math.abs((error[MASS] ?? 0) / (y[MASS] ?? 1));
  const temperature = Math.abs((error[TEMPERATURE] ?? 0) / (y[TEMPERATURE] ?? 1));
  const volume_m3 = ((y[MASS] ?? 1) * GAS_CONSTANT_J_kgK * (y[TEMPERATURE] ?? 1)) / REFERENCE_PRESSURE_Pa;
  const creep = Math.abs(error[CREEP] ?? 0) / volume_m3;
  return REFERENCE_PRESSURE_Pa * (mass + temperature + creep) + Math.abs(error[SOURCE] ?? 0);
}
