/**
 * Encrypts what is kept here: AES-GCM with a key that the browser made and lets nobody export (Web
 * Cryptography API, `extractable: false`). Whoever reads the database sees nothing of a patient. It does
 * not keep out who can run programs in this page, or who takes the whole profile of the browser from the
 * disk: the key lies there too.
 */
import type { DeviceDatabase, Sealed } from './device-database.js';

const ALGORITHM = { name: 'AES-GCM', length: 256 };
/** NIST SP 800-38D §8.2: 96 bits. */
const IV_BYTES = 12;
const KEY_NAME = 'seal';

export class Seal {
  readonly #database: DeviceDatabase;
  #key: Promise<CryptoKey> | null = null;

  constructor(database: DeviceDatabase) {
    this.#database = database;
  }

  /** @param name what it is: a text sealed as one thing cannot be opened as another */
  async close(name: string, value: unknown): Promise<Sealed> {
    const iv = crypto.getRandomValues(new Uint8Array(IV_BYTES));
    const text = new TextEncoder().encode(JSON.stringify(value));
    const key = await this.#findKey();
    return { iv, bytes: await crypto.subtle.encrypt(cipher(iv, name), key, text) };
  }

  /** Null: it was not sealed by this key under this name, or it is broken. */
  async open(name: string, { iv, bytes }: Sealed): Promise<unknown> {
    const key = await this.#findKey();
    try {
      const text = await crypto.subtle.decrypt(cipher(iv, name), key, bytes);
      return JSON.parse(new TextDecoder().decode(text));
    } catch {
      return null;
    }
  }

  #findKey(): Promise<CryptoKey> {
    this.#key ??= this.#readKey().catch((error: unknown) => {
      this.#key = null;
      throw error;
    });
    return this.#key;
  }

  async #readKey(): Promise<CryptoKey> {
    const kept = await this.#keptKey();
    if (kept !== undefined) return kept;
    const made = await crypto.subtle.generateKey(ALGORITHM, false, ['encrypt', 'decrypt']);
    try {
      await this.#database.write('keys', (store) => store.add(made, KEY_NAME));
      return made;
    } catch (error) {
      // Another tab may have been quicker.
      const others = await this.#keptKey();
      if (others === undefined) throw error;
      return others;
    }
  }

  #keptKey(): Promise<CryptoKey | undefined> {
    return this.#database.read<CryptoKey | undefined>('keys', (store) => store.get(KEY_NAME));
  }
}

function cipher(iv: Uint8Array<ArrayBuffer>, name: string): AesGcmParams {
  return { name: ALGORITHM.name, iv, additionalData: new TextEncoder().encode(name) };
}
