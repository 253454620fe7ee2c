// Days and moments between form controls, which speak of this place's time, and records, which carry their zone.

/** Noon of that day here: whoever reads it within half the world sees the same day. */
export function dayMoment(day: string): string {
  return new Date(`${day}T12:00`).toISOString()
}

export function isDay(day: string): boolean {
  return /^\d{4}-\d{2}-\d{2}$/.test(day) && !Number.isNaN(Date.parse(`${day}T12:00`))
}

export function today(now: Date): string {
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`
}

export function minuteText(now: Date): string {
  return `${today(now)}T${two(now.getHours())}:${two(now.getMinutes())}`
}

export function minuteMoment(text: string): string | null {
  const time = new Date(text).getTime()
  return text === '' || Number.isNaN(time) ? null : new Date(time).toISOString()
}

function two(value: number): string {
  return String(value).padStart(2, '0')
}
