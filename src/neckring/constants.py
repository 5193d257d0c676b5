"""Physical constants that body and suit share, each with its source."""

from __future__ import annotations

# Latent heat of water evaporating at skin temperature [J/kg]; Havenith et al. 2008, J Appl Physiol.
LATENT_HEAT = 2.43e6
# Molar mass of water [kg/mol]; CIAAW 2021 abridged standard atomic weights.
WATER_MOLAR_MASS = 0.018015
# Latent heat of water per mole [J/mol].
LATENT_HEAT_PER_MOLE = LATENT_HEAT * WATER_MOLAR_MASS
# Molar gas constant [J/(mol K)]; exact, SI 2019.
GAS_CONSTANT = 8.31446261815324
# Zero of the Celsius scale [K]; exact, SI.
CELSIUS_ZERO = 273.15
# Molar heat of air at constant pressure [J/(mol K)]: 1006 J/(kg K), ASHRAE Fundamentals 2017,
# times 28.966e-3 kg/mol.
AIR_MOLAR_HEAT = 29.14
# Latent heat of melting ice [J/kg]; Feistel and Wagner 2006 (IAPWS R10-06): 333.43 kJ/kg.
ICE_LATENT_HEAT = 333_430.0
# Mole fractions of dry outdoor air; oxygen ICAO/US Standard Atmosphere 1976,
# carbon dioxide NOAA global mean 2023, rounded, from memory.
OXYGEN_IN_AIR = 0.20946
CARBON_DIOXIDE_IN_AIR = 0.00042
# Respired heat per watt of metabolic rate; Fanger 1970, ISO 7730:
# dry 0.0014 M (34 - t), with t in degC; wet 0.0173 M (5.87 - p), with p in kPa.
DRY_PER_WATT = 0.0014
EXHALED_TEMPERATURE = 34.0
WET_PER_WATT = 0.0173e-3
EXHALED_PRESSURE = 5870.0
# Molar volume of an ideal gas at 0 degC and 101325 Pa [m3/mol]; CODATA 2018.
MOLAR_VOLUME = 22.413_969_54e-3
# Pressure of the standard atmosphere [Pa]; exact.
STANDARD_PRESSURE = 101325.0
# Specific heat of liquid water [J/(kg K)]; IAPWS-95 gives 4205 at 5 degC to 4178 at 35 degC.
WATER_SPECIFIC_HEAT = 4186.0
# Heat carried by a blood flow of one litre an hour [W/K]; Stolwijk 1971: 1.067 Wh/(L K).
BLOOD_HEAT = 1.067
# Density of cooling water in the loop, volume flow to mass flow [kg/m3]; Kell 1975 gives 1000 at
# 5 degC and 996 at 30 degC.
WATER_DENSITY = 999.0
