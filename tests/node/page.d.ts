// What the page's scripts find on the window: their own ground, and the map that folium made.
// What stands in `plan` is checked against plan.d.ts, which is made from the classes of the document.
interface Window {
  Resupply: { plan: PlanDocument; [name: string]: any };
  map_resupply: L.Map;
  tile_layer_online?: L.TileLayer;
}
