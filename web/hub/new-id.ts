// Ids made in the browser, so that a record is known by its id before the hub has seen it.
import { createIdFactory } from '@guardband/model/id-factory'

export const newId = createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void crypto.getRandomValues(bytes) })
