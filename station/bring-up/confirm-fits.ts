import { type Clock, DriverError } from "../../drivers/ports.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { openGauge } from "../instruments.ts";
import type { TransportSettings } from "../station-file.ts";
import { patiently } from "./listening.ts";
import type { ProfileFit } from "./match-profiles.ts";

export interface ConfirmOptions {
  readonly transport: TransportSettings;
  readonly clock: Clock;
  /** A profile that seemed to match and does not, with the reason. */
  readonly refused: (sentence: string) => void;
}

/** Reads once by each profile that matches, as the station would; where that fails, it is no match. */
export async function confirmFits(
  fits: readonly ProfileFit[],
  settings: SerialSettings,
  options: ConfirmOptions,
): Promise<ProfileFit[]> {
  const confirmed: ProfileFit[] = [];
  for (const fit of fits) confirmed.push(await confirmOne(fit, settings, options));
  return confirmed;
}

async function confirmOne(
  fit: ProfileFit,
  settings: SerialSettings,
  { transport, clock, refused }: ConfirmOptions,
): Promise<ProfileFit> {
  const { profile } = fit;
  // An I/O block's driver would reset its watchdog; a profile without identity might prepare the wrong gauge.
  if (!fit.isMatch || profile.kind !== "gauge" || (fit.identity !== "fits" && profile.startUp.length > 0))
    return fit;
  const gauge = await openGauge(
    { name: profile.name, profile: profile.name, transport, identity: null },
    { profiles: new Map([[profile.name, { ...profile, port: settings }]]), clock },
  );
  try {
    await patiently(clock, () => gauge.connect());
    await gauge.read();
    return fit;
  } catch (error) {
    if (!(error instanceof DriverError)) throw error;
    refused(`${profile.name} seemed to match, but read as the station would: ${error.message}`);
    return { ...fit, isMatch: false };
  } finally {
    await gauge.close();
  }
}
