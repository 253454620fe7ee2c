// The hub: HTTP over a lab, for the page.
export { askForUrl, BEACON_FILE } from './beacon.ts'
export { startHub, type Hub, type HubOptions, type HubSources } from './hub.ts'
