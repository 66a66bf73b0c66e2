// Made by docs/make_results_reference.py: do not edit.

interface ArrivalTable {
  "chainage_m": Array<number>;
  "arrive_s": Array<number>;
  "half_width_s": Array<number>;
}

interface Attribution {
  "text": string;
  "url": string;
  "data_date": string | null;
}

interface BeyondRange {
  "start_m": number;
  "end_m": number;
  "words": Sentence;
}

interface BikeLoad {
  "name": string;
  "mass_kg": number;
  "load_kg": number;
  "water_kg": number;
  "room_l": number;
  "has_l": number;
  "parcels": Array<BikeParcel>;
  "words": Sentence;
  "over_words": Sentence;
}

interface BikeParcel {
  "kind": "cooler" | "drinks" | "raw" | "kitchen" | "food" | "spare";
  "foods": Array<string>;
  "mass_kg": number;
  "words": Sentence;
}

interface CareDocument {
  "short": Array<Sentence>;
  "short_line": Sentence;
  "notes": Array<CareNoteRow>;
  "temperatures": Array<SafeTemperature>;
  "sources": Array<CareSource>;
  "boil_min": number | null;
}

interface CareNoteRow {
  "id": string;
  "title": string;
  "words": string;
  "source": string;
  "status": "confirmed" | "copy" | "memory" | "practice" | "ours";
}

interface CareSource {
  "source": string;
  "backs": Array<string>;
}

interface CarryStep {
  "chainage_m": number;
  "at_s": number;
  "meals": number;
  "stop"?: number;
}

interface ColdDocument {
  "coolers": Array<CoolerRow>;
  "weather": WeatherDocument;
  "assumptions": Array<Sentence>;
  "sources": Array<string>;
}

interface ColdNeed {
  "from": string;
  "to": string;
}

interface CoolerInstant {
  "t": string;
  "temp_c": number | null;
  "ice_kg": number | null;
  "ambient_c": number | null;
}

interface CoolerRoom {
  "usable_l": number;
  "fullest_l": number;
  "fullest_at": string;
  "over_l": number;
  "known": boolean;
  "words": Sentence;
}

interface CoolerRow {
  "name": string;
  "kind": string;
  "volume_l": number;
  "ua_w_per_k": number | null;
  "ua_source": string;
  "limit_c": number;
  "state": "holds" | "fails" | "too full" | "not known" | "no need" | "no cooler";
  "needs": Array<ColdNeed>;
  "fails_at": string | null;
  "hours_above": number;
  "warmest_c": number | null;
  "ice_gone": string | null;
  "no_ice_from": string | null;
  "unknown_from": string | null;
  "ice_stops": number;
  "ice_kg": number;
  "ice_kg_per_day": number | null;
  "spared_ice_kg": number | null;
  "purchases": Array<IceLoadRow>;
  "trace": Array<CoolerInstant>;
  "room": CoolerRoom;
  "words": Sentence;
  "loaded_kg": number;
  "other_form"?: OtherForm;
  "safety": boolean;
  "limit_words": Sentence;
  "verdict": Sentence;
}

interface CoverageDocument {
  "source": string;
  "data_date": string | null;
  "unknown": Array<UnknownSpan>;
  "warnings": Array<Sentence>;
  "words": Sentence;
}

interface DailyDistances {
  "rows": Array<PaceRow>;
  "words": Sentence;
}

interface DayFactRow {
  "kind": "holiday" | "clocks" | "time_zone" | "border" | "sunset" | "meal_out";
  "label": string;
  "words": Sentence;
  "chainage_m": number | null;
}

interface DayRow {
  "number": number;
  "date": string;
  "weekday": string;
  "start_m": number;
  "end_m": number;
  "length_m": number;
  "began_m"?: number;
  "depart": string;
  "arrive": string;
  "arrivals": ArrivalTable;
  "ride_s": number;
  "rest_days_before": number;
  "crossing_days_before": number;
  "night": NightRow;
  "sunrise": string | null;
  "sunset": string | null;
  "surface": SurfaceRow | null;
  "low_c": number | null;
  "high_c": number | null;
  "facts": Array<DayFactRow>;
  "cautions": Array<Sentence>;
}

interface DishName {
  "id": string;
  "name": string;
}

interface DishRow {
  "id": string;
  "name": string;
  "method": string;
  "heat": "none" | "stove" | "fire" | "either";
  "minutes": number;
  "kcal_each": number;
  "mass_kg": number;
  "volume_l": number;
  "water_l": number;
  "diet": "vegan" | "vegetarian" | "fish" | "meat";
  "allergens": Array<string>;
  "may_contain": Array<string>;
  "care": Array<string>;
  "cautions": Array<string>;
  "steps": Array<string>;
  "musts": Array<Sentence>;
  "tags": Array<string>;
  "leftover_of": string | null;
  "ingredients": Array<IngredientUse>;
}

interface DoorTimes {
  "known_from_s": number;
  "known_to_s": number;
  "open": Array<[number, number]>;
  "unless_holiday": boolean;
  "stay_s": number;
}

interface ExtraRow {
  "id": string;
  "name": string;
  "amount": number;
  "unit": "g" | "ml" | "piece";
  "words": Sentence;
  "kcal_each": number;
  "stop": number;
}

interface Fact {
  "label": string;
  "value_words": Sentence;
  "tone": "plain" | "caution" | "alarm";
}

interface FallbackRow {
  "kind": "shop" | "meal_out" | "none";
  "pass": string | null;
  "chainage_m": number;
  "distance_m": number;
  "eta": string | null;
  "state": "open" | "open_unless_holiday" | "tight" | "usually_open" | "unknown" | "usually_shut" | "shut";
  "words": Sentence;
}

interface FillingStop {
  "pass": string;
  "name": string;
  "leg": number;
  "chainage_m": number;
  "since_m": number;
  "eta": string;
  "state": "open" | "open_unless_holiday" | "tight" | "usually_open" | "unknown" | "usually_shut" | "shut";
  "confidence": "stated" | "likely";
  "joined": boolean;
  "at_stop": number | null;
  "words": Sentence;
}

interface FirstAnswer {
  "figure": Sentence;
  "question": Sentence;
  "answer": Sentence;
  "detail": Sentence;
  "tone": "plain" | "caution" | "alarm";
  "state"?: "open" | "open_unless_holiday" | "tight" | "usually_open" | "unknown" | "usually_shut" | "shut";
  "state_words"?: Sentence;
  "pass"?: string;
  "start_m"?: number;
  "end_m"?: number;
  "until"?: string;
}

interface FirstAnswers {
  "shops": Array<FirstAnswer>;
  "stretch": FirstAnswer;
  "ice": FirstAnswer;
  "worst"?: WorstCase;
}

interface FuelDocument {
  "range_m": number;
  "reserve_m": number;
  "tank_m": number | null;
  "tank_words": Sentence;
  "stops": Array<FillingStop>;
  "longest_gap_m": number;
  "exceeded": Array<BeyondRange>;
  "words": Sentence;
}

interface GapRow {
  "start_m": number;
  "end_m": number;
  "length_m": number;
  "ride_s": number;
  "wall_s": number;
  "meals": number;
  "days": number;
  "from_words": string;
  "to_words": string;
  "crosses_unknown": boolean;
  "has_shut": boolean;
  "jump_m": number;
  "words"?: Sentence;
}

interface HoursIgnored {
  "stops": Array<string>;
  "shut": Array<ShutDoor>;
  "longest_meals": number;
  "words": Sentence;
}

interface IceBuy {
  "cooler": string;
  "kg": number;
  "bags": number;
  "confidence": "stated" | "likely";
  "words": Sentence;
  "if_none"?: Array<Sentence>;
}

interface IceDocument {
  "stops": Array<IcePlace>;
  "longest_gap_h": number | null;
  "words": Sentence;
  "rule_words"?: Sentence;
  "spare": Array<IcePlace>;
}

interface IceLoadRow {
  "at": string;
  "label": string;
  "bags": number;
  "bag_kg": number;
  "kg": number;
  "loaded_kg": number;
  "kind": "cube" | "block";
  "confidence": "stated" | "likely";
  "on_the_way": boolean;
  "if_none_fails_at": string | null;
  "words": Sentence;
  "pass": string | null;
  "doubt_words": Sentence;
}

interface IcePlace {
  "leg": number;
  "pass": string;
  "confidence": "stated" | "likely";
  "chainage_m": number;
  "eta": string;
  "state": "open" | "open_unless_holiday" | "tight" | "usually_open" | "unknown" | "usually_shut" | "shut";
  "state_words": Sentence;
  "at_stop": number | null;
  "words": Sentence;
  "buy": Array<IceBuy>;
}

interface IfShutRow {
  "gap_meals": number;
  "gap_days": number;
  "words": Sentence;
}

interface IngredientUse {
  "id": string;
  "name": string;
  "amount": number;
  "unit": "g" | "ml" | "piece";
  "words": Sentence;
  "each_words": Sentence;
  "storage": string;
  "stop": number;
  "use_by": string | null;
  "doubtful": boolean;
}

interface KitList {
  "lines": Array<ShoppingRow>;
  "words": Sentence;
}

interface LoadDocument {
  "points": Array<LoadPointRow>;
  "peak_kg": LoadPointRow | null;
  "peak_bag_l": LoadPointRow | null;
  "peak_cooler_l": LoadPointRow | null;
  "over": Array<Overload>;
  "water": Array<WaterNeedRow>;
  "stove_fuel": StoveFuel;
  "rations": Record<string, RationFigure>;
}

interface LoadPointRow {
  "when": string;
  "kind": "stop" | "meal" | "other";
  "index": number;
  "label": string;
  "mass_kg": number;
  "bag_l": number;
  "cooler_l": number;
}

interface MealFuel {
  "slot": number;
  "gas_g": number;
  "fuel_l": number;
}

interface MealOutRow {
  "day": number;
  "date": string;
  "meal": "breakfast" | "lunch" | "dinner";
  "pass": string | null;
  "name": string | null;
  "at": string | null;
  "earliest": string | null;
  "latest": string | null;
  "state": "open" | "open_unless_holiday" | "tight" | "usually_open" | "unknown" | "usually_shut" | "shut";
  "state_words": Sentence | null;
  "words": Sentence;
}

interface MealRow {
  "slot": number;
  "when": string;
  "kind": "breakfast" | "lunch" | "dinner";
  "stretch": number;
  "late": boolean;
  "fire_ban": boolean;
  "no_cook": boolean;
  "dish": DishRow | null;
  "use_by": string | null;
  "why": Sentence;
}

interface MenuDay {
  "day": number;
  "date": string;
  "meals": Array<MealRow>;
  "extras": Array<ExtraRow>;
  "kcal_each": number;
}

interface MenuDocument {
  "people": number;
  "days": Array<MenuDay>;
  "moves": Array<MovedDishRow>;
  "unfilled": Array<number>;
  "warnings": Array<string>;
  "words": MenuNotes;
}

interface MenuNotes {
  "energy": string;
  "allergens": string;
  "sources": string;
}

interface MovedDishRow {
  "dish": string;
  "name": string;
  "from_slot": number;
  "to_slot": number | null;
  "warm_from": string | null;
  "why": Sentence;
}

interface NightRow {
  "kind": "camp" | "nominal" | "end";
  "name": string | null;
  "place": string | null;
  "words": Sentence;
}

interface OtherForm {
  "kind": string;
  "ice_stops": number;
  "ice_kg": number;
  "fails_at": string | null;
  "words": Sentence;
}

interface Overload {
  "peak": "peak_kg" | "peak_bag_l" | "peak_cooler_l";
  "words": Sentence;
}

interface PaceRow {
  "daily_m": number;
  "start_date": string;
  "weekday": string;
  "days": number;
  "stops": number;
  "max_carry_meals": number;
  "max_carry_days": number;
  "excess_meals": number;
  "extra_s": number;
  "shut_on_arrival": number;
  "doubtful_stops": number;
  "best": Array<string>;
  "chosen": boolean;
}

interface PackRow {
  "size": number;
  "count": number;
}

interface PackedItem {
  "id": string;
  "name": string;
  "words": Sentence;
  "first_use": string;
  "mass_kg": number;
  "volume_l": number;
}

interface PackedLayer {
  "kind": "raw" | "ice" | "packs" | "food" | "rests" | "fill";
  "volume_l": number;
  "ice_kg": number;
  "packs_kg": number;
  "first_use": string | null;
  "items": Array<PackedItem>;
  "words": Sentence;
}

interface PackedStop {
  "stop": number;
  "name": string;
  "when": string;
  "cooler": Array<PackedLayer>;
  "food_bag": Array<PackedItem>;
  "spice_bag": Array<PackedItem>;
  "over_l": number;
  "rules": Array<string>;
  "words": Sentence;
  "bikes"?: Array<BikeLoad>;
}

interface PackingDocument {
  "stops": Array<PackedStop>;
  "rules": Record<string, PackingRule>;
}

interface PackingRule {
  "words": string;
  "source": string;
}

interface PassRow {
  "id": string;
  "place": string;
  "chainage_m": number;
  "offset_m": number;
  "side": "left" | "on" | "right";
  "leg": number;
  "supplies"?: Array<string>;
  "eta": string;
  "eta_early"?: string;
  "eta_late"?: string;
  "state": "open" | "open_unless_holiday" | "tight" | "usually_open" | "unknown" | "usually_shut" | "shut";
  "state_words"?: Sentence;
  "holiday_unsaid"?: boolean;
  "next_open"?: string;
  "next_close"?: string;
  "doors"?: DoorTimes;
  "detour_m": number;
  "detour_s": number;
  "walk_m"?: number;
  "detour_source"?: string;
  "detour_path"?: Array<[number, number]>;
  "role": "stop" | "fallback" | "ice" | "other";
}

interface PlaceRow {
  "name": string;
  "kind": string;
  "kind_words": string;
  "lon": number;
  "lat": number;
  "supplies": Record<string, "stated" | "likely">;
  "opening_hours": string | null;
  "hours_words"?: Sentence;
  "tags": Record<string, string>;
}

interface QuantityRow {
  "at_m"?: number;
  "way_m"?: number;
  "walk_m"?: number;
  "height_m"?: number;
  "speed_kmh"?: number;
  "mass_kg"?: number;
  "pack_g"?: number;
  "pack_ml"?: number;
  "volume_l"?: number;
  "room_l"?: number;
  "temp_c"?: number;
  "limit_c"?: number;
  "time"?: string;
  "day_time"?: string;
  "closing"?: string;
  "hour"?: string;
  "name"?: string;
}

interface RationFigure {
  "value": number;
  "words": string;
  "source": string;
}

interface ReadingRules {
  "rules": Array<Sentence>;
}

interface RemedyRow {
  "words": Sentence;
  "minutes": number | null;
  "excess_meals": number;
}

interface ReserveList {
  "dishes": Array<DishName>;
  "lines": Array<ShoppingRow>;
  "words": Sentence;
}

interface RouteDocument {
  "name": string;
  "length_m": number;
  "warnings": Array<Sentence>;
  "breaks": Array<RouteJump>;
  "marks": Array<RouteMark>;
}

interface RouteJump {
  "chainage_m": number;
  "length_m": number;
  "kind": "ferry" | "unknown";
  "crossing_s": number;
}

interface RouteMark {
  "name": string;
  "lon": number;
  "lat": number;
}

interface SafeTemperature {
  "food": string;
  "temp_f": number | null;
  "temp_c": number | null;
  "rest_min": number | null;
  "words": string;
  "source": string;
}

type Sentence = Array<string | QuantityRow>;

interface ShoppingDocument {
  "people": number;
  "stops": Array<ShoppingStop>;
  "kit": KitList;
  "gear": KitList;
  "reserve": ReserveList;
}

interface ShoppingRow {
  "id": string;
  "name": string;
  "aisle": string;
  "unit": "g" | "ml" | "piece" | "kg";
  "need": number;
  "in_hand": number;
  "packs": Array<PackRow>;
  "bought": number;
  "used_later": number;
  "left_over": number;
  "mass_kg": number;
  "meals": Array<number>;
  "doubtful": boolean;
  "words": Sentence;
  "left_words": Sentence;
  "doubt_words": Sentence;
  "bike"?: string;
}

interface ShoppingStop {
  "stop": number | null;
  "name": string;
  "when": string;
  "full": boolean | null;
  "words": Sentence;
  "lines": Array<ShoppingRow>;
  "if_no_ice"?: Array<Sentence>;
  "chainage_m"?: number;
  "pass"?: string;
}

interface ShortfallRow {
  "start_m": number;
  "end_m": number;
  "days": number;
  "meals": number;
  "limit_days": number;
  "excess_meals": number;
  "last_shop_m": number;
  "words": Sentence;
  "remedies": Array<RemedyRow>;
}

interface ShutDoor {
  "pass": string;
  "name": string;
  "chainage_m": number;
  "arrive": string;
  "state_words": Sentence;
}

interface SpareDocument {
  "meals": number;
  "kg": number | null;
  "worst_stop": number | null;
  "worst_more_meals": number;
  "longest_gap_meals": number;
  "longest_gap_days": number;
  "words": Sentence;
}

interface StartCarry {
  "meals": number;
  "on_board_meals": number | null;
  "days": number;
  "kg": number | null;
  "words": Sentence;
  "to_chainage_m": number;
  "kg_words": Sentence;
}

interface StopRow {
  "number": number;
  "pass": string;
  "place": string;
  "name": string;
  "leg": number;
  "chainage_m": number;
  "arrive": string;
  "leave": string;
  "minutes": number;
  "from_camp": boolean;
  "on_board_m": number;
  "shut_chance": number;
  "detour_m": number;
  "state": "open" | "open_unless_holiday" | "tight" | "usually_open" | "unknown" | "usually_shut" | "shut";
  "state_words": Sentence;
  "kind": "full" | "small";
  "why": Sentence;
  "why_not_previous": Sentence | null;
  "carry_meals": number;
  "carry_days": number;
  "carry_kg": number | null;
  "carry_words": Sentence;
  "to_chainage_m": number;
  "fallback": FallbackRow;
  "meal_out": FallbackRow | null;
  "if_shut": IfShutRow;
  "carry_kg_words": Sentence;
  "ice": Array<IceBuy>;
}

interface StoveFuel {
  "gas_g": number;
  "total_l": number;
  "meals": Array<MealFuel>;
  "words": Sentence;
}

interface StyleRow {
  "style": "fresh" | "balanced" | "few";
  "chosen": boolean;
  "stops": number;
  "minutes": number;
  "most_meals": number;
  "fresh_dinners": number;
  "dinners": number;
  "fail_chance": number;
  "approximate": boolean;
  "words": Sentence;
}

interface Summary {
  "headline": Sentence;
  "facts": Array<Fact>;
  "cautions": Array<Sentence>;
}

interface SupplyGaps {
  "longest": GapRow;
  "stated"?: GapRow;
  "all": Array<GapRow>;
  "count_passes": number;
}

interface SurfaceRow {
  "paved_m": number;
  "gravel_m": number;
  "track_m": number;
  "unknown_m": number;
}

interface TripDocument {
  "id": string;
  "name": string;
  "units": "metric" | "imperial";
  "clock": 12 | 24;
  "people": number;
  "start_date": string;
  "days": number;
  "daily_m": number;
  "speed_kmh": number;
  "speed_source": string;
  "style": "fresh" | "balanced" | "few";
  "carry_limit_days": number;
  "carry_habit_days": number;
  "corridor_m": number;
  "country": string | null;
  "time_zone": string | null;
  "settings": Record<string, unknown>;
}

interface UnknownSpan {
  "start_m": number;
  "end_m": number;
  "reason": Sentence;
}

interface WaterDayRow {
  "leg": number;
  "litres": number;
  "road_l": number;
  "camp_l": number;
  "words": Sentence;
}

interface WaterDocument {
  "litres_by_day": Array<WaterDayRow>;
  "every_day": Sentence;
  "unknown_heat": Array<number>;
  "gaps": Array<WaterGapRow>;
  "fills": Array<WaterFillRow>;
  "longest": WaterGapRow;
  "words": Sentence;
  "on_board"?: WaterOnBoard;
}

interface WaterFillRow {
  "pass": string | null;
  "start_m": number;
  "litres": number;
}

interface WaterGapRow {
  "pass": string | null;
  "start_m": number;
  "end_m": number;
  "litres": number;
  "dry_camps": number;
  "treat": boolean;
  "buy": boolean;
  "crosses_unknown": boolean;
  "words": Sentence;
}

interface WaterNeedRow {
  "day": number;
  "drink_l": number;
  "cook_l": number;
  "ceiling_l": number;
  "why": Sentence;
  "date": string | null;
}

interface WaterOnBoard {
  "litres": number | null;
  "needed_l": number;
  "lasts": boolean | null;
  "words": Sentence;
}

interface WeatherDay {
  "date": string;
  "low_c": number | null;
  "high_c": number | null;
  "source": string;
}

interface WeatherDocument {
  "days": Array<WeatherDay>;
  "problems": Array<string>;
}

interface WorstCase {
  "words": Sentence;
  "start_m"?: number;
  "end_m"?: number;
}

interface PlanDocument {
  "schema": "resupply-plan/2";
  "made_with": string;
  "trip": TripDocument;
  "summary": Summary;
  "answers": FirstAnswers;
  "route": RouteDocument;
  "coverage": CoverageDocument;
  "legs": Array<DayRow>;
  "places": Record<string, PlaceRow>;
  "passes": Array<PassRow>;
  "start_carry": StartCarry;
  "stops": Array<StopRow>;
  "carry_profile": Array<CarryStep>;
  "gaps": Record<string, SupplyGaps>;
  "shortfalls": Array<ShortfallRow>;
  "spare": SpareDocument;
  "eat_out": Array<MealOutRow>;
  "styles": Array<StyleRow>;
  "ice": IceDocument;
  "explain": ReadingRules;
  "attribution": Attribution;
  "naive"?: HoursIgnored;
  "sweep"?: DailyDistances;
  "fuel"?: FuelDocument;
  "water"?: WaterDocument;
  "cold"?: ColdDocument;
  "care"?: CareDocument;
  "menu"?: MenuDocument;
  "shopping"?: ShoppingDocument;
  "packing"?: PackingDocument;
  "load"?: LoadDocument;
}
