// @ts-check
// Where photos lie on the phone until the laptop has them: IndexedDB, which needs no secure context, or
// plain memory where a browser keeps nothing. Pictures lie apart from what is known of them, so that a stack
// of sixty isn't in memory at once.

/**
 * @typedef {object} Shot
 * @property {number} key
 * @property {string} race
 * @property {string} name
 * @property {boolean} here its picture is on this phone; false once the laptop has it
 * @property {string} state sending, then as the laptop says
 * @property {string} id by which the laptop knows it
 * @property {string[]} words
 * @property {string[]} todo
 */

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const done = (request) => new Promise((yes, no) => {
  request.onsuccess = () => yes(request.result);
  request.onerror = () => no(request.error);
});

// A page that was left in the middle of making the database can leave it shut for the next one, with no error said. Then
// photos lie in memory, which the page says, until it opens after all.
const patienceMs = 5000;

export async function openShelf() {
  /** @type {Map<number, Shot>} */
  const all = new Map();
  /** @type {Map<number, ArrayBuffer>} */
  const inMemory = new Map();
  /** @type {IDBDatabase | null} */
  let db = null;
  try {
    const opening = indexedDB.open('gatefold-photos', 1);
    opening.onupgradeneeded = () => {
      opening.result.createObjectStore('shots', { keyPath: 'key', autoIncrement: true });
      opening.result.createObjectStore('pictures');
    };
    const opened = done(opening);
    db = await Promise.race([opened, new Promise((late) => setTimeout(late, patienceMs, null))]);
    if (!db) opened.then(() => { if (inMemory.size === 0) location.reload(); }, () => {});
    addEventListener('pagehide', () => { db?.close(); });
    addEventListener('pageshow', (e) => { if (e.persisted) location.reload(); });
  } catch { /* memory it is */ }
  if (db) for (const shot of await done(db.transaction('shots').objectStore('shots').getAll())) all.set(shot.key, shot);

  /** Resolves once the change is kept. @param {(shots: IDBObjectStore, pictures: IDBObjectStore) => void} change */
  const write = (change) => new Promise((yes, no) => {
    if (!db) return no(new Error('nothing is kept'));
    // strict: a phone's battery may end any moment
    const t = db.transaction(['shots', 'pictures'], 'readwrite', { durability: 'strict' });
    change(t.objectStore('shots'), t.objectStore('pictures'));
    t.oncomplete = () => yes(undefined);
    t.onerror = t.onabort = () => no(t.error);
  });

  return {
    keeps: db !== null,
    shots: () => [...all.values()],
    /** Lays a photo on the shelf; false if it is in memory only. @param {Omit<Shot, 'key'>} shot @param {ArrayBuffer} picture */
    async add(shot, picture) {
      let key = -1 - inMemory.size;
      try {
        await write((shots, pictures) => {
          const adding = shots.add(shot);
          adding.onsuccess = () => pictures.add(picture, key = Number(adding.result));
        });
      } catch { // no room, or no database
        key = -1 - inMemory.size;
        inMemory.set(key, picture);
      }
      all.set(key, { ...shot, key });
      return key > 0;
    },
    /** @param {Shot} shot @returns {Promise<ArrayBuffer | undefined>} */
    async picture(shot) {
      if (shot.key < 0 || !db) return inMemory.get(shot.key);
      return done(db.transaction('pictures').objectStore('pictures').get(shot.key));
    },
    /** Notes what is known of a photo, and lets go of its picture if it isn't here any more. @param {Shot} shot */
    async put(shot) {
      all.set(shot.key, shot);
      if (shot.key < 0) {
        if (!shot.here) inMemory.set(shot.key, new ArrayBuffer(0));
        return;
      }
      await write((shots, pictures) => { shots.put(shot); if (!shot.here) pictures.delete(shot.key); });
    },
    /** @param {Shot} shot */
    async drop(shot) {
      all.delete(shot.key);
      if (shot.key > 0) await write((shots, pictures) => { shots.delete(shot.key); pictures.delete(shot.key); });
      else inMemory.set(shot.key, new ArrayBuffer(0));
    },
  };
}
