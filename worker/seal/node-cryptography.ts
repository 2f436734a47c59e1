import { webcrypto } from "node:crypto";
import { type Cryptography, type Subtle, webCryptography } from "../../core/seal/cryptography.ts";

/** Hashes and signature checks of this program's own platform. */
export const nodeCryptography: Cryptography = webCryptography(webcrypto.subtle as unknown as Subtle);
