import {
  createPrivateKey,
  createPublicKey,
  generateKeyPairSync,
  type KeyObject,
  sign,
  verify,
} from "node:crypto";
import { readFileSync, statSync } from "node:fs";
import { errnoOf, RecordError } from "./record-error.ts";

/** A station's own key for its heads: nobody types a passphrase when a station starts, so that the file is all there is to it. */
export interface StationKey {
  readonly privateKey: KeyObject;
  /** Ed25519 in SPKI form (RFC 8410), DER, base64. */
  readonly publicKey: string;
  /** What is wrong with who may read the file, as a sentence; null where nothing is. */
  readonly warning: string | null;
}

const OTHERS_MAY_READ = 0o044;

/** A new Ed25519 key pair (RFC 8032): private in PKCS #8, PEM; public in SPKI form, DER, base64. */
export function newStationKey(): { readonly privatePem: string; readonly publicKey: string } {
  const { privateKey, publicKey } = generateKeyPairSync("ed25519");
  return {
    privatePem: privateKey.export({ type: "pkcs8", format: "pem" }).toString(),
    publicKey: publicKeyText(publicKey),
  };
}

/**
 * @param path of the private key
 * @param publicKey what the station file says belongs to it
 * @throws RecordError in one sentence where it can't be read, is no such key, or belongs to another public key
 */
export function openStationKey(path: string, publicKey: string): StationKey {
  const remedy = `Make one with: drumtight audit new-key`;
  let pem: string;
  let mode: number;
  try {
    pem = readFileSync(path, "utf8");
    mode = statSync(path).mode;
  } catch (error) {
    const why = errnoOf(error) === "ENOENT" ? "there is no such file" : String(error);
    throw unusable(path, `The station's key ${path} can't be read (${why}). ${remedy}`, error);
  }
  let privateKey: KeyObject;
  try {
    privateKey = createPrivateKey(pem);
  } catch (error) {
    throw unusable(path, `${path} is no private key in PEM form without a passphrase. ${remedy}`, error);
  }
  if (privateKey.asymmetricKeyType !== "ed25519")
    throw unusable(path, `${path} is no Ed25519 key. ${remedy}`);
  if (publicKeyText(createPublicKey(privateKey)) !== publicKey) {
    throw unusable(
      path,
      `The key ${path} does not belong to the public_key under daily_head in the station file: put the right key back, or the line that drumtight audit new-key printed for this one.`,
    );
  }
  const isOpen = process.platform !== "win32" && (mode & OTHERS_MAY_READ) !== 0;
  const warning = isOpen
    ? `The station's key ${path} can be read by others than its owner, and whoever has it can sign as the station: chmod 600 ${path}, and make a new key if somebody may have copied it.`
    : null;
  return { privateKey, publicKey, warning };
}

/** @returns the Ed25519 signature (RFC 8032) of a text's UTF-8 bytes, base64 */
export function signText(text: string, privateKey: KeyObject): string {
  return sign(null, Buffer.from(text), privateKey).toString("base64");
}

/** Whether this is the signature of the text by that key, and written in the one way base64 has for it. */
export function signatureHolds(text: string, signature: string, publicKey: string): boolean {
  const bytes = Buffer.from(signature, "base64");
  // Bits that base64 leaves unused would otherwise be free to change.
  if (bytes.toString("base64") !== signature) return false;
  try {
    return verify(null, Buffer.from(text), openPublicKey(publicKey), bytes);
  } catch {
    return false;
  }
}

/** A station has signed with few keys; opening one takes longer than verifying. */
const MOST_OPEN = 16;
const openKeys = new Map<string, KeyObject>();

function openPublicKey(publicKey: string): KeyObject {
  const known = openKeys.get(publicKey);
  if (known) return known;
  const key = createPublicKey({ key: Buffer.from(publicKey, "base64"), format: "der", type: "spki" });
  if (key.asymmetricKeyType !== "ed25519") throw new Error("no Ed25519 key");
  if (openKeys.size >= MOST_OPEN) openKeys.clear();
  openKeys.set(publicKey, key);
  return key;
}

function publicKeyText(key: KeyObject): string {
  return key.export({ type: "spki", format: "der" }).toString("base64");
}

function unusable(path: string, message: string, cause?: unknown): RecordError {
  return new RecordError("NOT_READABLE", path, message, { cause });
}
