"""Whole logs in styles that the word tables may be tuned on; written as `styles_held_out` is."""

from __future__ import annotations

OPEN: dict[str, str] = {
    "turkish": """
        Zaman (s); time_s; time s
        Motor devri (d/dk); rpm; engine_speed rpm
        Emme manifoldu basıncı (kPa); map_kpa; manifold_pressure kPa abs
        Hedef turbo basıncı (bar); target_kpa*0.01; boost_target bar gauge
        Gaz kelebeği konumu (%); throttle_pct; throttle %
        Gaz pedalı konumu (%); throttle_pct; pedal %
        Emme havası sıcaklığı (°C); intake_c; intake_temperature C
        Soğutma suyu sıcaklığı (°C); coolant_c; coolant_temperature C
        Atmosfer basıncı (kPa); baro_kpa; barometer kPa abs
        Egzoz gazı sıcaklığı (°C); exhaust_c; exhaust_temperature_before_turbine C
        Ateşleme avansı (°); ignition_deg; ignition_advance deg
        Hava kütle debisi (kg/h); flow_gs*3.6; air_flow kg/h
        Araç hızı (km/h); speed_kmh; vehicle_speed km/h
        Akü voltajı (V); battery_v; battery_voltage V
        Vites; gear; gear 1
    """,
    "russian": """
        Время, с; time_s; time s
        Обороты двигателя, об/мин; rpm; engine_speed rpm
        Давление наддува, бар; boost_kpa*0.01; boost bar gauge
        Давление наддува заданное, бар; target_kpa*0.01; boost_target bar gauge
        Положение дроссельной заслонки, %; throttle_pct; throttle %
        Положение педали акселератора, %; throttle_pct; pedal %
        Температура воздуха на впуске, °C; intake_c; intake_temperature C
        Температура охлаждающей жидкости, °C; coolant_c; coolant_temperature C
        Атмосферное давление, кПа; baro_kpa; barometer kPa abs
        Температура выхлопных газов, °C; exhaust_c; exhaust_temperature_before_turbine C
        Угол опережения зажигания, град; ignition_deg; ignition_advance deg
        Массовый расход воздуха, кг/ч; flow_gs*3.6; air_flow kg/h
        Скорость автомобиля, км/ч; speed_kmh; vehicle_speed km/h
        Напряжение бортсети, В; battery_v; battery_voltage V
        Скважность клапана вестгейта, %; duty_pct; duty %
        Передача; gear; gear 1
    """,
    "russian, absolute": """
        Время(мс); time_s*1000; time ms
        Частота вращения двигателя (об/мин); rpm; engine_speed rpm
        Абсолютное давление во впускном коллекторе (кПа); map_kpa; manifold_pressure kPa abs
        Дроссель (%); throttle_pct; throttle %
        Лямбда; lambda; lambda 1
        Температура масла (°C); coolant_c; -
        Крутящий момент (Нм); torque_nm; torque Nm
    """,
    "chinese": """
        时间(秒); time_s; time s
        发动机转速(rpm); rpm; engine_speed rpm
        进气歧管压力(kPa); map_kpa; manifold_pressure kPa abs
        目标增压压力(kPa); target_kpa; boost_target kPa gauge
        节气门开度(%); throttle_pct; throttle %
        油门踏板位置(%); throttle_pct; pedal %
        进气温度(℃); intake_c; intake_temperature C
        冷却液温度(℃); coolant_c; coolant_temperature C
        大气压力(kPa); baro_kpa; barometer kPa abs
        排气温度(℃); exhaust_c; exhaust_temperature_before_turbine C
        点火提前角(°); ignition_deg; ignition_advance deg
        空气流量(g/s); flow_gs; air_flow g/s
        车速(km/h); speed_kmh; vehicle_speed km/h
        空燃比; lambda*14.7; air_fuel_ratio 1
        电池电压(V); battery_v; battery_voltage V
        废气阀占空比(%); duty_pct; duty %
    """,
    "slovak": """
        Čas (s); time_s; time s
        Otáčky motora (ot/min); rpm; engine_speed rpm
        Plniaci tlak (bar); boost_kpa*0.01; boost bar gauge
        Škrtiaca klapka (%); throttle_pct; throttle %
        Teplota nasávaného vzduchu (°C); intake_c; intake_temperature C
        Teplota chladiacej kvapaliny (°C); coolant_c; coolant_temperature C
        Barometrický tlak (kPa); baro_kpa; barometer kPa abs
        Krútiaci moment (Nm); torque_nm; torque Nm
        Rýchlosť vozidla (km/h); speed_kmh; vehicle_speed km/h
        Napätie batérie (V); battery_v; battery_voltage V
    """,
    "letters first": """
        tiLog_s; time_s; time s
        nEng_rpm; rpm; engine_speed rpm
        pIntMnf_kPa; map_kpa; manifold_pressure kPa abs
        pBstSp_kPa; target_kpa+98.6; boost_target kPa abs
        rThrVlv_%; throttle_pct; throttle %
        rAccPed_%; throttle_pct; pedal %
        TInt_C; intake_c; intake_temperature C
        TCool_C; coolant_c; coolant_temperature C
        pAmb_kPa; baro_kpa; barometer kPa abs
        TExhBefTrb_C; exhaust_c; exhaust_temperature_before_turbine C
        phiIgn_deg; ignition_deg; ignition_advance deg
        dmAir_kg/h; flow_gs*3.6; air_flow kg/h
        vVeh_km/h; speed_kmh; vehicle_speed km/h
        uBat_V; battery_v; battery_voltage V
        rWgDuty_%; duty_pct; duty %
    """,
    "letters first, plain": """
        t; time_s; time s
        Ctl_nEng; rpm; engine_speed rpm
        Ctl_pMnfld; map_kpa; manifold_pressure kPa abs
        Ctl_pAmb; baro_kpa; barometer kPa abs
        Ctl_tCool; coolant_c; coolant_temperature C
        Ctl_tIntAir; intake_c; intake_temperature C
        Ctl_wThr; throttle_pct; throttle %
        Ctl_lamAct; lambda; lambda 1
        Ctl_lamDes; lambda; -
    """,
    "service 01 short": """
        Time; time_s; time s
        Engine speed (rpm); rpm; engine_speed rpm
        Intake manifold absolute pressure (kPa); map_kpa; manifold_pressure kPa abs
        Throttle position (%); throttle_pct; throttle %
        Relative throttle position (%); throttle_pct*0.8; -
        Accelerator pedal position D (%); throttle_pct; pedal %
        Intake air temperature (°C); intake_c; intake_temperature C
        Engine coolant temperature (°C); coolant_c; coolant_temperature C
        Absolute Barometric Pressure (kPa); baro_kpa; barometer kPa abs
        Timing advance (° before TDC); ignition_deg; ignition_advance deg
        Mass air flow sensor air flow rate (g/s); flow_gs; air_flow g/s
        Vehicle speed (km/h); speed_kmh; vehicle_speed km/h
        Control module voltage (V); battery_v; battery_voltage V
        Short term fuel trim Bank 1 (%); duty_pct*0.1; -
        Commanded equivalence ratio; lambda; -
        Oxygen sensor 1 voltage (V); battery_v*0.05; -
        Engine oil temperature (°C); coolant_c; -
        Engine fuel rate (L/h); duty_pct; -
        Run time since engine start (s); gear; -
    """,
    "bus signals": """
        Timestamp; time_s; time s
        EngSpd; rpm; engine_speed rpm
        IntkMnfldPrs; map_kpa; manifold_pressure kPa abs
        ThrtlPos; throttle_pct; throttle %
        AccelPedalPos1; throttle_pct; pedal %
        IntkAirTemp; intake_c; intake_temperature C
        EngCoolTemp; coolant_c; coolant_temperature C
        BaroPrs; baro_kpa; barometer kPa abs
        ExhGasTemp; exhaust_c; exhaust_temperature_before_turbine C
        TurboSpd; shaft_rpm; shaft_speed rpm
        VehSpd; speed_kmh; vehicle_speed km/h
        BattVolt; battery_v; battery_voltage V
        BoostPrsDes; target_kpa; boost_target kPa gauge
        WgDutyCyc; duty_pct; duty %
    """,
    "camel": """
        timeSeconds; time_s; time s
        engineRpm; rpm; engine_speed rpm
        manifoldAbsolutePressureKpa; map_kpa; manifold_pressure kPa abs
        throttlePositionPercent; throttle_pct; throttle %
        acceleratorPedalPercent; throttle_pct; pedal %
        chargeAirTemperatureC; intake_c; intake_temperature C
        coolantTemperatureC; coolant_c; coolant_temperature C
        barometricPressureKpa; baro_kpa; barometer kPa abs
        turbineInletPressureKpa; turbine_kpa; turbine_inlet_pressure kPa gauge
        exhaustGasTemperatureC; exhaust_c; exhaust_temperature_before_turbine C
        massAirFlowGps; flow_gs; air_flow g/s
        vehicleSpeedKph; speed_kmh; vehicle_speed km/h
        boostSolenoidDutyPercent; duty_pct; duty %
    """,
    "snake": """
        time_sec; time_s; time s
        engine_speed_rpm; rpm; engine_speed rpm
        boost_pressure_psi; boost_kpa*0.145038; boost psi gauge
        desired_boost_psi; target_kpa*0.145038; boost_target psi gauge
        throttle_angle_deg; throttle_pct*0.85; throttle deg
        pedal_pct; throttle_pct; pedal %
        intake_air_temp_degf; intake_c*1.8+32; intake_temperature F
        coolant_temp_degf; coolant_c*1.8+32; coolant_temperature F
        baro_inhg; baro_kpa*0.2953; barometer inHg abs
        exhaust_backpressure_psi; turbine_kpa*0.145038; turbine_inlet_pressure psi gauge
        maf_lb_min; flow_gs*0.13228; air_flow lb/min
        speed_mph; speed_kmh*0.6214; vehicle_speed mph
        wastegate_duty_pct; duty_pct; duty %
        lambda_1; lambda; lambda 1
        lambda_cmd; lambda; -
        battery_volts; battery_v; battery_voltage V
    """,
    "capitals": """
        ELAPSED TIME; time_s; time s
        ENGINE SPEED (RPM); rpm; engine_speed rpm
        INTAKE MANIFOLD PRESSURE (INHG ABS); map_kpa*0.2953; manifold_pressure inHg abs
        THROTTLE POSITION (PCT); throttle_pct; throttle %
        INTAKE AIR TEMP (DEG F); intake_c*1.8+32; intake_temperature F
        COOLANT TEMP (DEG F); coolant_c*1.8+32; coolant_temperature F
        VEHICLE SPEED (MPH); speed_kmh*0.6214; vehicle_speed mph
        SPARK ADV (DEG); ignition_deg; ignition_advance deg
        AIR FUEL RATIO; lambda*14.7; air_fuel_ratio 1
        WASTEGATE DC (PCT); duty_pct; duty %
    """,
    "german compounds": """
        Zeitstempel [ms]; time_s*1000; time ms
        Motordrehzahl [min-1]; rpm; engine_speed rpm
        Saugrohrdruck [hPa]; map_kpa*10; manifold_pressure hPa abs
        Ladedrucksollwert [hPa]; target_kpa*10+986; boost_target hPa abs
        Drosselklappenstellung [%]; throttle_pct; throttle %
        Fahrpedalstellung [%]; throttle_pct; pedal %
        Ansauglufttemperatur [°C]; intake_c; intake_temperature C
        Kühlmitteltemperatur [°C]; coolant_c; coolant_temperature C
        Atmosphärendruck [hPa]; baro_kpa*10; barometer hPa abs
        Abgastemperatur vor Turbolader [°C]; exhaust_c; exhaust_temperature_before_turbine C
        Zündwinkel [°KW]; ignition_deg; ignition_advance deg
        Luftmassenstrom [kg/h]; flow_gs*3.6; air_flow kg/h
        Fahrgeschwindigkeit [km/h]; speed_kmh; vehicle_speed km/h
        Radmoment [Nm]; torque_nm; torque Nm
        Batteriespannung [V]; battery_v; battery_voltage V
        Ansteuerung Wastegate [%]; duty_pct; duty %
    """,
    "french long": """
        Horodatage (ms); time_s*1000; time ms
        Régime moteur (tr/min); rpm; engine_speed rpm
        Pression absolue du collecteur d'admission (mbar); map_kpa*10; manifold_pressure mbar abs
        Consigne de pression de suralimentation (mbar); target_kpa*10+986; boost_target mbar abs
        Position papillon (%); throttle_pct; throttle %
        Position pédale d'accélérateur (%); throttle_pct; pedal %
        Température d'air d'admission (°C); intake_c; intake_temperature C
        Température du liquide de refroidissement (°C); coolant_c; coolant_temperature C
        Pression atmosphérique (mbar); baro_kpa*10; barometer mbar abs
        Température des gaz d'échappement (°C); exhaust_c; exhaust_temperature_before_turbine C
        Débit massique d'air (kg/h); flow_gs*3.6; air_flow kg/h
        Richesse; lambda; -
        Tension batterie (V); battery_v; battery_voltage V
    """,
    "spanish and portuguese": """
        Tiempo [s]; time_s; time s
        Revoluciones del motor [rpm]; rpm; engine_speed rpm
        Pressão de sobrealimentação [bar]; boost_kpa*0.01; boost bar gauge
        Presión de soplado deseada [bar]; target_kpa*0.01; boost_target bar gauge
        Posición de la mariposa [%]; throttle_pct; throttle %
        Pedal del acelerador [%]; throttle_pct; pedal %
        Temperatura do ar de admissão [°C]; intake_c; intake_temperature C
        Temperatura do líquido de arrefecimento [°C]; coolant_c; coolant_temperature C
        Pressão atmosférica [mbar]; baro_kpa*10; barometer mbar abs
        Temperatura de los gases de escape [°C]; exhaust_c; exhaust_temperature_before_turbine C
        Flujo de masa de aire [g/s]; flow_gs; air_flow g/s
        Velocidad del vehículo [km/h]; speed_kmh; vehicle_speed km/h
        Tensão da bateria [V]; battery_v; battery_voltage V
    """,
    "dutch and swedish": """
        Tijd (s); time_s; time s
        Motortoerental (omw/min); rpm; engine_speed rpm
        Laddtryck ärvärde (kPa); boost_kpa; boost kPa gauge
        Gewenste laaddruk (kPa); target_kpa; boost_target kPa gauge
        Stand gasklep (%); throttle_pct; throttle %
        Gaspedaal (%); throttle_pct; pedal %
        Insugsluftens temperatur (°C); intake_c; intake_temperature C
        Kylvätskans temperatur (°C); coolant_c; coolant_temperature C
        Luchtdruk (hPa); baro_kpa*10; barometer hPa abs
        Uitlaatgastemperatuur (°C); exhaust_c; exhaust_temperature_before_turbine C
        Luftflöde (g/s); flow_gs; air_flow g/s
        Accuspanning (V); battery_v; battery_voltage V
    """,
    "italian": """
        Tempo (s); time_s; time s
        Regime motore (giri/min); rpm; engine_speed rpm
        Pressione sovralimentazione (bar); boost_kpa*0.01; boost bar gauge
        Pressione sovralimentazione obiettivo (bar); target_kpa*0.01; boost_target bar gauge
        Posizione farfalla (%); throttle_pct; throttle %
        Posizione pedale acceleratore (%); throttle_pct; pedal %
        Temperatura aria aspirata (°C); intake_c; intake_temperature C
        Temperatura liquido raffreddamento (°C); coolant_c; coolant_temperature C
        Pressione barometrica (mbar); baro_kpa*10; barometer mbar abs
        Portata massica aria (kg/h); flow_gs*3.6; air_flow kg/h
        Coppia (Nm); torque_nm; torque Nm
        Velocità veicolo (km/h); speed_kmh; vehicle_speed km/h
    """,
    "polish long": """
        Czas (ms); time_s*1000; time ms
        Prędkość obrotowa silnika (obr/min); rpm; engine_speed rpm
        Ciśnienie w kolektorze dolotowym (kPa); map_kpa; manifold_pressure kPa abs
        Położenie przepustnicy (%); throttle_pct; throttle %
        Położenie pedału przyspieszenia (%); throttle_pct; pedal %
        Temperatura powietrza w dolocie (°C); intake_c; intake_temperature C
        Temperatura cieczy chłodzącej (°C); coolant_c; coolant_temperature C
        Ciśnienie atmosferyczne (kPa); baro_kpa; barometer kPa abs
        Kąt wyprzedzenia zapłonu (°); ignition_deg; ignition_advance deg
        Masowy przepływ powietrza (g/s); flow_gs; air_flow g/s
        Prędkość pojazdu (km/h); speed_kmh; vehicle_speed km/h
        Moment obrotowy (Nm); torque_nm; torque Nm
    """,
    "upstream and downstream": """
        Time [s]; time_s; time s
        Rotational speed, engine [1/min]; rpm; engine_speed rpm
        Pressure upstream throttle [kPa abs]; compressor_kpa+98.6; compressor_outlet_pressure kPa abs
        Pressure downstream throttle [kPa abs]; map_kpa; manifold_pressure kPa abs
        Pressure upstream turbine [kPa abs]; turbine_kpa+98.6; turbine_inlet_pressure kPa abs
        Pressure downstream turbine [kPa abs]; turbine_kpa*0.1+98.6; turbine_outlet_pressure kPa abs
        Temperature upstream turbine [°C]; exhaust_c; exhaust_temperature_before_turbine C
        Temperature downstream compressor [°C]; intake_c*2; compressor_outlet_temperature C
        Throttle [%]; throttle_pct; throttle %
        Ambient pressure [kPa]; baro_kpa; barometer kPa abs
    """,
}
