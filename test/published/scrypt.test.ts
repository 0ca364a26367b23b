// RFC 7914, The scrypt Password-Based Key Derivation Function (2016), section 12: test vectors.
import { expect, it } from "vitest";
import { derive } from "../../station/people/scrypt-hash.ts";

it.each([
  {
    secret: "",
    salt: "",
    cost: { N: 16, r: 1, p: 1 },
    key: "77d6576238657b203b19ca42c18a0497f16b4844e3074ae8dfdffa3fede21442fcd0069ded0948f8326a753a0fc81f17e8d3e0fb2e0d3628cf35e20c38d18906",
  },
  {
    secret: "pleaseletmein",
    salt: "SodiumChloride",
    cost: { N: 16_384, r: 8, p: 1 },
    key: "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887",
  },
])("scrypt of $secret with $salt at $cost is the RFC's", async ({ secret, salt, cost, key }) => {
  expect((await derive(secret, Buffer.from(salt), cost, 64)).toString("hex")).toBe(key);
});
