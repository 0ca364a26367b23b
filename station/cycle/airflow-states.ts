import { airflowPoint, airflowStep } from "./unit-context.ts";
import { allOrificesShut, orificeLevels, SAFE_LEVELS, steadyOrder } from "./unit-orders.ts";
import { MOTOR_STILL_RUNNING, NOT_STEADY } from "./unit-reasons.ts";
import { commandInvoke, observeInvoke, unitSetup } from "./unit-setup.ts";

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
        observeInvoke((context) => steadyOrder(context, 0)),
      ],
      on: { OUTCOME: { target: "hold" } },
      after: {
        runUpLongest: [
          {
            guard: "motorDraws",
            target: "#unit.safing",
            actions: { type: "addVoid", params: NOT_STEADY },
          },
          {
            target: "coast",
            actions: {
              type: "addFail",
              params: {
                code: "MOTOR_DID_NOT_START",
                sentence:
                  "The motor did not start although the supply is there: look at the plug, the switch and the motor.",
              },
            },
          },
        ],
      },
    },
    hold: {
      entry: { type: "startPhase", params: { name: "hold" } },
      exit: "endPhase",
      invoke: [
        commandInvoke((context) => orificeLevels(context)),
        observeInvoke((context) => steadyOrder(context, airflowPoint(context).samplesLeast)),
      ],
      on: {
        OUTCOME: [
          { guard: "pointsLeft", target: "hold", reenter: true, actions: ["keepPoint", "nextPoint"] },
          { target: "coast", actions: "keepPoint" },
        ],
      },
      after: {
        holdLongest: { target: "#unit.safing", actions: { type: "addVoid", params: NOT_STEADY } },
      },
    },
    coast: {
      entry: { type: "startPhase", params: { name: "coast" } },
      exit: "endPhase",
      invoke: [
        commandInvoke((context) => ({ ...allOrificesShut(context), ...SAFE_LEVELS })),
        observeInvoke((context) => ({
          watch: "stopped",
          below_W: airflowStep(context).runningAbove_W,
        })),
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
