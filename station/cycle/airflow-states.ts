import { airflowStep, ventedWithin } from "./unit-context.ts";
import { allOrificesShut, orificeLevels, pointOrder, runUpOrder, SAFE_LEVELS } from "./unit-orders.ts";
import { AIRFLOW_SILENT, MOTOR_STILL_RUNNING, VENT_NOT_COMPLETED } from "./unit-reasons.ts";
import { commandInvoke, observeInvoke, unitSetup } from "./unit-setup.ts";

/** A unit that fails is switched off and has stopped before anything else happens; all else goes the safe way out. */
const FOUND = [
  { guard: "unitFailsAirflow", target: "#unit.testing.airflow.coast", actions: "addAirflowFinding" },
  { target: "#unit.safing", actions: "addAirflowFinding" },
] as const;

/**
 * The phases of an airflow step. Nothing is watched before the I/O block has confirmed the levels: readings of before would
 * be taken for what came of them. A phase's time runs over both.
 */
export const airflowStates = unitSetup.createStateConfig({
  initial: "runUp",
  states: {
    runUp: {
      entry: { type: "startPhase", params: { name: "run_up" } },
      exit: "endPhase",
      initial: "commanding",
      states: {
        commanding: {
          invoke: commandInvoke(
            (context) => ({
              ...orificeLevels(context),
              vent: true,
              isolate: false,
              source: false,
              motor: true,
            }),
            "watching",
          ),
        },
        watching: {
          invoke: observeInvoke(runUpOrder),
          on: {
            OUTCOME: [
              { guard: "isUp", target: "#unit.testing.airflow.hold", actions: "keepRunUp" },
              ...FOUND,
            ],
          },
        },
      },
      after: {
        runUpLongest: { target: "#unit.safing", actions: { type: "addVoid", params: AIRFLOW_SILENT } },
      },
    },
    hold: {
      entry: { type: "startPhase", params: { name: "hold" } },
      exit: "endPhase",
      initial: "commanding",
      states: {
        commanding: { invoke: commandInvoke((context) => orificeLevels(context), "watching") },
        watching: {
          invoke: observeInvoke(pointOrder),
          on: {
            OUTCOME: [
              { guard: "lastPointKnown", target: "#unit.testing.airflow.coast", actions: "keepPoint" },
              {
                guard: "pointKnown",
                target: "#unit.testing.airflow.hold",
                reenter: true,
                actions: ["keepPoint", "nextPoint"],
              },
              ...FOUND,
            ],
          },
        },
      },
      after: {
        holdLongest: { target: "#unit.safing", actions: { type: "addVoid", params: AIRFLOW_SILENT } },
      },
    },
    coast: {
      entry: { type: "startPhase", params: { name: "coast" } },
      exit: "endPhase",
      initial: "commanding",
      states: {
        commanding: {
          invoke: commandInvoke((context) => ({ ...allOrificesShut(context), ...SAFE_LEVELS }), "watching"),
        },
        watching: {
          invoke: observeInvoke((context) => ({
            watch: "stopped",
            below_W: airflowStep(context).stoppedBelow_W,
          })),
          on: { OUTCOME: "relieving" },
        },
        // With its orifices shut a body holds what the fan has drawn, if the vent does not let it out.
        relieving: {
          invoke: observeInvoke((context) => ({ watch: "vented", within_Pa: ventedWithin(context) })),
          on: {
            OUTCOME: [
              { guard: "motorFailed", target: "#unit.recording" },
              { target: "#unit.testing.next", actions: "nextStep" },
            ],
          },
        },
      },
      after: {
        coastLongest: [
          {
            guard: "hasStopped",
            target: "#unit.safing",
            actions: { type: "addVoid", params: VENT_NOT_COMPLETED },
          },
          { target: "#unit.safing", actions: { type: "addVoid", params: MOTOR_STILL_RUNNING } },
        ],
      },
    },
  },
});
