import { it } from "vitest";
import { expectSound } from "./campaign-part.ts";

it(
  "passes no bad unit, loses none and leaves nothing live, whatever seeds 101 to 200 drew",
  {
    timeout: 900_000,
  },
  () => expectSound(101, 100),
);
