import { type Measured, propagate } from "../fit/propagation.ts";
import { PLENUM_EXPANSION_UNCERTAINTY } from "../gas/plenum-orifice.ts";
import type { AirflowConditions, PointMeans } from "./airflow-evidence.ts";
import { airflowModel } from "./airflow-model.ts";
import { type DrawnAir, plenumFlow_m3_s } from "./flow-at-point.ts";
import { STANDARD_ROOM } from "./standard-conditions.ts";

/** Suction over the certificate's between which a flow may be brought to it. */
const COMPARABLE_SUCTION = { least: 0.5, most: 2 };

/**
 * Flow that an orifice would let through at the suction and air of its certificate, from what it let through at others:
 * qc = qm sqrt(hc / hm) sqrt(rho / 1.20 kg/m3) ec / em, with the expansibilities e of ISO 5167-2 in a space much wider than the
 * bore. Coefficient and bore cancel, and need not be known.
 *
 * Without the expansibilities a flow certified at 8 kPa and measured at 7.2 would be off by 0.2 %, at half of it by 1.0 %, at
 * twice by 2.1 %. What they are uncertain by leaves a tenth of that, and is in the budget.
 * @param means of the point at which the orifice was held
 * @param atSuction_Pa the certificate's
 * @returns m3/s of air of 1.20 kg/m3
 * @throws RangeError, one sentence, where the suction is too far from the certificate's, or an input is missing
 * @example // 20 L/s at 7 kPa in a room of 1.20 kg/m3 is 21.33 L/s at 8 kPa (21.38 L/s by the roots alone)
 * @see flow as the root of the drop over density: Bernoulli, ISO 5167-1; expansibility: ISO 5167-2:2003 equation 5 at b = 0;
 * uncertainty: JCGM 100:2008, 5.1.3 note 2
 */
export function referenceFlow(
  means: PointMeans,
  conditions: AirflowConditions,
  atSuction_Pa: number,
): Measured {
  const ratio = means.suction_Pa.mean / atSuction_Pa;
  if (!(ratio >= COMPARABLE_SUCTION.least && ratio <= COMPARABLE_SUCTION.most)) {
    throw new RangeError(
      `The suction is ${kPa(means.suction_Pa.mean)} and the certificate is for ${kPa(atSuction_Pa)}: too far apart to compare their flows.`,
    );
  }
  const model = airflowModel([means], { ...conditions, correction: null });
  const expansion = {
    component: "expansion of the air in the reference orifice",
    estimate: 0,
    uncertainty: PLENUM_EXPANSION_UNCERTAINTY,
    unit: "1",
  };
  const { temperature_K, pressure_Pa } = conditions.room;
  const [flow] = propagate([...model.inputs, expansion], (x) => {
    const { density_kg_m3, points } = model.stateAt(x);
    const error = x.at(-1) ?? Number.NaN;
    const { suction_Pa, flow_m3_s } = points[0]?.asMeasured ?? {
      suction_Pa: Number.NaN,
      flow_m3_s: Number.NaN,
    };
    const certified = perSquare(atSuction_Pa, STANDARD_ROOM, error);
    return [
      (flow_m3_s * certified) / perSquare(suction_Pa, { temperature_K, pressure_Pa, density_kg_m3 }, error),
    ];
  });
  if (!flow) throw new RangeError("The reference flow could not be calculated.");
  return flow;
}

/** Flow through an orifice of a bore of 1 m and a coefficient of 1. */
function perSquare(suction_Pa: number, air: DrawnAir, expansionError: number): number {
  const flow_m3_s = plenumFlow_m3_s({ bore_m: 1, coefficient: 1 }, suction_Pa, air);
  return flow_m3_s * (1 + (expansionError * suction_Pa) / air.pressure_Pa);
}

function kPa(pressure_Pa: number): string {
  return `${(pressure_Pa / 1000).toPrecision(3)} kPa`;
}
