export const ROLES = ["inspector", "engineer", "supervisor"] as const;

/** What somebody may do at the station. An engineer and a supervisor may do all that an inspector may. */
export type Role = (typeof ROLES)[number];

/** Who is at the station, and how far that has been proven. */
export interface SignedIn {
  /** Null where the station runs without sign-in. */
  readonly name: string | null;
  /** Null where nobody has said who may do what: without sign-in, or where a name is asked for and believed. */
  readonly role: Role | null;
  /** "off": nobody signs in. "stated": a name was given and believed. "badge" and "pin": proven against the people file. */
  readonly how: "off" | "stated" | "badge" | "pin";
}

/** At a station without sign-in. */
export const NOBODY: SignedIn = { name: null, role: null, how: "off" };

/** @returns whether somebody of this role may do what a `least` may */
export function mayActAs(role: Role, least: Role): boolean {
  return least === "inspector" || role === least;
}
