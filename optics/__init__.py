"""The optics of a simulated patient: light, eye, sight, and what the patient may answer."""

ENGINE_VERSION = "9"
