// A picture of the user's own beneath the map.

export class Underlay {
  pinning = false;

  constructor(sheet) {
    this.sheet = sheet;
  }

  async load() {}

  draw() {}

  begin() {}

  leave() {}

  clickedMap() {}
}
