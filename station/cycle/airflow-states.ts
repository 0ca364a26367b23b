import { airflowStep } from "./unit-context.ts";
import { allOrificesShut, orificeLevels, pointOrder, runUpOrder, SAFE_LEVELS } from "./unit-orders.ts";
import { AIRFLOW_SILENT, MOTOR_STILL_RUNNING } from "./unit-reasons.ts";
import { commandInvoke, observeInvoke, unitSetup } from "./unit-setup.ts";

/** A unit that fails is switched off and has stopped before anything else happens; all else goes the safe way out. */
const FOUND = [
  { guard: "unitFailsAirflow", target: "coast", actions: "addAirflowFinding" },
  { target: "#unit.safing", actions: "addAirflowFinding" },
] as const;

/** The phases of an airflow step. */
export const airflowStates = unitSetup.createStateConfig({
  initial: "runUp",
  states: {
    runUp: {
      entry: { type: "startPhase", params: { name: "run_up" } },
      exit: "endPhase",
      invoke: [
        commandInvoke((context) => ({
          ...orificeLevels(context),
          vent: true,
          isolate: false,
          source: false,
          motor: true,
        })),
        observeInvoke(runUpOrder),
      ],
      on: { OUTCOME: [{ guard: "isUp", target: "hold", actions: "keepRunUp" }, ...FOUND] },
      after: {
        runUpLongest: { target: "#unit.safing", actions: { type: "addVoid", params: AIRFLOW_SILENT } },
      },
    },
    hold: {
      entry: { type: "startPhase", params: { name: "hold" } },
      exit: "endPhase",
      invoke: [commandInvoke((context) => orificeLevels(context)), observeInvoke(pointOrder)],
      on: {
        OUTCOME: [
          { guard: "lastPointKnown", target: "coast", actions: "keepPoint" },
          { guard: "pointKnown", target: "hold", reenter: true, actions: ["keepPoint", "nextPoint"] },
          ...FOUND,
        ],
      },
      after: {
        holdLongest: { target: "#unit.safing", actions: { type: "addVoid", params: AIRFLOW_SILENT } },
      },
    },
    coast: {
      entry: { type: "startPhase", params: { name: "coast" } },
      exit: "endPhase",
      invoke: [
        commandInvoke((context) => ({ ...allOrificesShut(context), ...SAFE_LEVELS })),
        observeInvoke((context) => ({ watch: "stopped", below_W: airflowStep(context).stoppedBelow_W })),
      ],
      on: { OUTCOME: { target: "#unit.testing.next", actions: "nextStep" } },
      after: {
        coastLongest: {
          target: "#unit.safing",
          actions: { type: "addVoid", params: MOTOR_STILL_RUNNING },
        },
      },
    },
  },
});
