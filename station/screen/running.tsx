import { Text } from "ink";
import { useContext } from "react";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import { LiveContext } from "./live.ts";
import { LIVE_MARK } from "./live-mark.ts";
import type { Look } from "./look.ts";
import { runningRows } from "./running-rows.ts";
import type { ScreenState, UnitOnFixture } from "./screen-state.ts";

/** The running test. */
export function Running({
  look,
  state,
  unit,
  progress,
}: {
  readonly look: Look;
  readonly state: ScreenState;
  readonly unit: UnitOnFixture;
  readonly progress: UnitProgress;
}) {
  const live = useContext(LiveContext);
  const draw = (observed: ScreenState["observed"]) =>
    runningRows(
      { look, unit, readsFlow: state.facts.readsFlow },
      { ...observed, progress: observed.progress ?? progress },
    );
  if (!live) return <Text>{draw(state.observed).join("\n")}</Text>;
  live.draw = draw;
  return <Text>{Array.from({ length: look.rows }, () => LIVE_MARK).join("\n")}</Text>;
}
