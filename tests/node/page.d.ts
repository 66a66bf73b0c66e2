// What the page's scripts find on the window: their own ground, and the map that folium made.
interface Window {
  Resupply: any;
  map_resupply: L.Map;
  tile_layer_online?: L.TileLayer;
}
