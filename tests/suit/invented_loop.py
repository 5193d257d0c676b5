"""An invented loop of the size that garments have."""

from neckring.suit.water_loop import WaterLoop

LITRE_A_MINUTE = 1e-3 / 60.0
"""[m3/s]"""

INVENTED_LOOP = WaterLoop(
    pump_kind="centrifugal",
    pump_shut_off_pressure=45e3,
    pump_free_flow=3.0 * LITRE_A_MINUTE,
    pump_power=9.0,
    main_bore=6.4e-3,
    main_length=3.0,
    fittings=6.0,
    disconnect_count=4,
    disconnect_kv=0.35 / 3600.0,
    valve_kv=0.5 / 3600.0,
    valve_law="equal_percentage",
    valve_rangeability=40.0,
    ambient_conductance=0.6,
    tube_count=40,
    tube_length=2.0,
    tube_bore=2.0e-3,
)
