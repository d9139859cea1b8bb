"""Whole logs in styles that the word tables were not tuned on, written before these tables were extended.

A line: header (with "||" and the text of a units row where the style has one); the numbers under it, made
of `drive.drive` ("map_kpa*10+986" is ten times the channel plus 986); what it is: channel, unit ("1" for
none) and gauge or abs; "-" for a column that is none of ours.
"""

from __future__ import annotations

HELD_OUT: dict[str, str] = {
    "hungarian": """
        Idő [s]; time_s; time s
        Motorfordulatszám [1/perc]; rpm; engine_speed rpm
        Szívócsőnyomás [mbar]; map_kpa*10; manifold_pressure mbar abs
        Töltőnyomás előírt [mbar]; target_kpa*10+986; boost_target mbar abs
        Fojtószelep állás [%]; throttle_pct; throttle %
        Gázpedál állás [%]; throttle_pct; pedal %
        Beszívott levegő hőmérséklet [°C]; intake_c; intake_temperature C
        Hűtővíz hőmérséklet [°C]; coolant_c; coolant_temperature C
        Légköri nyomás [mbar]; baro_kpa*10; barometer mbar abs
        Előgyújtás [°]; ignition_deg; ignition_advance deg
        Légtömeg [kg/h]; flow_gs*3.6; air_flow kg/h
        Járműsebesség [km/h]; speed_kmh; vehicle_speed km/h
        Kipufogógáz hőmérséklet [°C]; exhaust_c; exhaust_temperature_before_turbine C
        Akkumulátor feszültség [V]; battery_v; battery_voltage V
    """,
    "romanian": """
        Timp (s); time_s; time s
        Turație motor (rot/min); rpm; engine_speed rpm
        Presiune turbo (bar); boost_kpa*0.01; boost bar gauge
        Presiune turbo dorită (bar); target_kpa*0.01; boost_target bar gauge
        Clapetă de accelerație (%); throttle_pct; throttle %
        Temperatură aer admisie (°C); intake_c; intake_temperature C
        Temperatură lichid de răcire (°C); coolant_c; coolant_temperature C
        Presiune atmosferică (mbar); baro_kpa*10; barometer mbar abs
        Avans la aprindere (°); ignition_deg; ignition_advance deg
        Debit masic de aer (kg/h); flow_gs*3.6; air_flow kg/h
        Viteza vehiculului (km/h); speed_kmh; vehicle_speed km/h
        Temperatură gaze evacuare (°C); exhaust_c; exhaust_temperature_before_turbine C
        Cuplu motor (Nm); torque_nm; torque Nm
        Tensiune baterie (V); battery_v; battery_voltage V
    """,
    "ukrainian": """
        Час, с; time_s; time s
        Оберти двигуна, об/хв; rpm; engine_speed rpm
        Тиск наддуву, бар; boost_kpa*0.01; boost bar gauge
        Положення дросельної заслінки, %; throttle_pct; throttle %
        Педаль акселератора, %; throttle_pct; pedal %
        Температура повітря на впуску, °C; intake_c; intake_temperature C
        Температура охолоджувальної рідини, °C; coolant_c; coolant_temperature C
        Атмосферний тиск, кПа; baro_kpa; barometer kPa abs
        Кут випередження запалювання, град; ignition_deg; ignition_advance deg
        Масова витрата повітря, г/с; flow_gs; air_flow g/s
        Швидкість автомобіля, км/год; speed_kmh; vehicle_speed km/h
        Температура відпрацьованих газів, °C; exhaust_c; exhaust_temperature_before_turbine C
        Напруга акумулятора, В; battery_v; battery_voltage V
        Передача; gear; gear 1
    """,
    "greek": """
        Χρόνος (s); time_s; time s
        Στροφές κινητήρα (rpm); rpm; engine_speed rpm
        Πίεση πολλαπλής εισαγωγής (kPa); map_kpa; manifold_pressure kPa abs
        Θέση πεταλούδας (%); throttle_pct; throttle %
        Θερμοκρασία αέρα εισαγωγής (°C); intake_c; intake_temperature C
        Θερμοκρασία ψυκτικού (°C); coolant_c; coolant_temperature C
        Βαρομετρική πίεση (kPa); baro_kpa; barometer kPa abs
        Θερμοκρασία καυσαερίων (°C); exhaust_c; exhaust_temperature_before_turbine C
        Ταχύτητα οχήματος (km/h); speed_kmh; vehicle_speed km/h
        Λάμδα; lambda; lambda 1
        Ροπή (Nm); torque_nm; torque Nm
        Τάση μπαταρίας (V); battery_v; battery_voltage V
    """,
    "korean": """
        시간(s); time_s; time s
        엔진 회전수(rpm); rpm; engine_speed rpm
        흡기 압력(kPa); map_kpa; manifold_pressure kPa abs
        스로틀 개도(%); throttle_pct; throttle %
        가속 페달(%); throttle_pct; pedal %
        흡기 온도(℃); intake_c; intake_temperature C
        냉각수 온도(℃); coolant_c; coolant_temperature C
        대기압(kPa); baro_kpa; barometer kPa abs
        점화 시기(deg); ignition_deg; ignition_advance deg
        차속(km/h); speed_kmh; vehicle_speed km/h
        배기 온도(℃); exhaust_c; exhaust_temperature_before_turbine C
        공연비; lambda*14.7; air_fuel_ratio 1
        배터리 전압(V); battery_v; battery_voltage V
    """,
    "japanese": """
        時間[s]; time_s; time s
        エンジン回転数[rpm]; rpm; engine_speed rpm
        ブースト圧[kPa]; boost_kpa; boost kPa gauge
        目標ブースト圧[kPa]; target_kpa; boost_target kPa gauge
        スロットル開度[%]; throttle_pct; throttle %
        アクセル開度[%]; throttle_pct; pedal %
        吸気温度[℃]; intake_c; intake_temperature C
        水温[℃]; coolant_c; coolant_temperature C
        大気圧[kPa]; baro_kpa; barometer kPa abs
        点火時期[deg]; ignition_deg; ignition_advance deg
        空燃比; lambda*14.7; air_fuel_ratio 1
        吸入空気量[g/s]; flow_gs; air_flow g/s
        車速[km/h]; speed_kmh; vehicle_speed km/h
        排気温度[℃]; exhaust_c; exhaust_temperature_before_turbine C
        ギア; gear; gear 1
        バッテリー電圧[V]; battery_v; battery_voltage V
    """,
    "letters first, hardware dotted": """
        Sys.tiAbs || s; time_s; time s
        Eng.nAvrg || 1/min; rpm; engine_speed rpm
        Air.pIntkMnf || hPa; map_kpa*10; manifold_pressure hPa abs
        Air.pBstDes || hPa; target_kpa*10+986; boost_target hPa abs
        Thr.rAct || %; throttle_pct; throttle %
        Acc.rPedal || %; throttle_pct; pedal %
        Air.tIntk || °C; intake_c; intake_temperature C
        Eng.tCool || °C; coolant_c; coolant_temperature C
        Env.pAmb || hPa; baro_kpa*10; barometer hPa abs
        Exh.tBefTrbn || °C; exhaust_c; exhaust_temperature_before_turbine C
        Wg.rDuty || %; duty_pct; duty %
        Veh.vAct || km/h; speed_kmh; vehicle_speed km/h
        Bat.uAct || V; battery_v; battery_voltage V
        Exh.lam1 || -; lambda; lambda 1
    """,
    "service 01 in words": """
        Time (s); time_s; time s
        Engine RPM (1/min); rpm; engine_speed rpm
        Intake Manifold Absolute Pressure (kPa); map_kpa; manifold_pressure kPa abs
        Absolute Throttle Position B (%); throttle_pct; throttle %
        Commanded Throttle Actuator Control (%); throttle_pct; -
        Accelerator Pedal Position E (%); throttle_pct; pedal %
        Intake Air Temperature (°C); intake_c; intake_temperature C
        Engine Coolant Temperature (°C); coolant_c; coolant_temperature C
        Ambient Air Temperature (°C); ambient_c; ambient_temperature C
        Barometric Pressure (kPa); baro_kpa; barometer kPa abs
        Ignition Timing Advance for #1 Cylinder (deg); ignition_deg; ignition_advance deg
        Air Flow Rate from Mass Air Flow Sensor (g/s); flow_gs; air_flow g/s
        Vehicle Speed Sensor (km/h); speed_kmh; vehicle_speed km/h
        Control Module Voltage (V); battery_v; battery_voltage V
        Long Term Fuel Trim - Bank 1 (%); duty_pct*0.1; -
        Catalyst Temperature Bank 1, Sensor 1 (°C); exhaust_c; exhaust_temperature_after_turbine C
        Calculated LOAD Value (%); duty_pct*2; -
        Distance Traveled While MIL is Activated (km); gear; -
    """,
    "network signals": """
        t; time_s; time s
        EngSpeed_rpm; rpm; engine_speed rpm
        EngIntakeManifold1Press_kPa; map_kpa; manifold_pressure kPa abs
        EngThrottleValve1Position_pct; throttle_pct; throttle %
        AccelPedalPos1_pct; throttle_pct; pedal %
        EngIntakeManifold1Temp_degC; intake_c; intake_temperature C
        EngCoolantTemp_degC; coolant_c; coolant_temperature C
        BarometricPress_kPa; baro_kpa; barometer kPa abs
        AmbientAirTemp_degC; ambient_c; ambient_temperature C
        EngTurbo1Speed_rpm; shaft_rpm; shaft_speed rpm
        WheelBasedVehicleSpeed_kph; speed_kmh; vehicle_speed km/h
        TransCurrentGear; gear; gear 1
        BatteryPotential_V; battery_v; battery_voltage V
        EngExhaustGasTemp_degC; exhaust_c; exhaust_temperature_before_turbine C
        ActualEngPercentTorque_pct; duty_pct; -
    """,
    "quantity over unit": """
        t / s; time_s; time s
        n_eng / min^-1; rpm; engine_speed rpm
        p_manifold,abs / kPa; map_kpa; manifold_pressure kPa abs
        p_boost,set / kPa; target_kpa; boost_target kPa gauge
        alpha_throttle / %; throttle_pct; throttle %
        T_intake / °C; intake_c; intake_temperature C
        T_coolant / °C; coolant_c; coolant_temperature C
        p_ambient / kPa; baro_kpa; barometer kPa abs
        p_turbine,in / kPa; turbine_kpa+98.6; turbine_inlet_pressure kPa abs
        T_exhaust / °C; exhaust_c; exhaust_temperature_before_turbine C
        m_dot_air / (g/s); flow_gs; air_flow g/s
        v_vehicle / (km/h); speed_kmh; vehicle_speed km/h
        M_wheel / Nm; torque_nm; torque Nm
    """,
    "dyno capitals": """
        TIME SEC; time_s; time s
        ENG RPM; rpm; engine_speed rpm
        MAN PRS PSIA; map_kpa*0.145038; manifold_pressure psi abs
        THROTTLE PCT; throttle_pct; throttle %
        WHL TRQ LBFT; torque_nm*0.7376; torque lb-ft
        WHL PWR HP; torque_nm*0.5; power hp
        AIR IN DEGF; intake_c*1.8+32; intake_temperature F
        H2O DEGF; coolant_c*1.8+32; coolant_temperature F
        BARO INHG; baro_kpa*0.2953; barometer inHg abs
        EGT1 DEGF; exhaust_c*1.8+32; exhaust_temperature_before_turbine F
        TURBINE IN PSIG; turbine_kpa*0.145038; turbine_inlet_pressure psi gauge
        AFR L; lambda*14.7; air_fuel_ratio 1
        OIL PRS PSI; torque_nm*0.1+30; oil_pressure psi gauge
        ROLLER RPM; rpm*0.21; -
    """,
    "finnish": """
        Aika (s); time_s; time s
        Moottorin kierrosluku (1/min); rpm; engine_speed rpm
        Ahtopaine (bar); boost_kpa*0.01; boost bar gauge
        Ahtopaineen tavoite (bar); target_kpa*0.01; boost_target bar gauge
        Kaasuläpän asento (%); throttle_pct; throttle %
        Kaasupoljin (%); throttle_pct; pedal %
        Imuilman lämpötila (°C); intake_c; intake_temperature C
        Jäähdytysnesteen lämpötila (°C); coolant_c; coolant_temperature C
        Ilmanpaine (mbar); baro_kpa*10; barometer mbar abs
        Pakokaasun lämpötila (°C); exhaust_c; exhaust_temperature_before_turbine C
        Sytytysennakko (°); ignition_deg; ignition_advance deg
        Ilmamassa (kg/h); flow_gs*3.6; air_flow kg/h
        Ajonopeus (km/h); speed_kmh; vehicle_speed km/h
        Akkujännite (V); battery_v; battery_voltage V
    """,
    "norwegian": """
        Tid [s]; time_s; time s
        Motorturtall [o/min]; rpm; engine_speed rpm
        Manifoldtrykk [kPa]; map_kpa; manifold_pressure kPa abs
        Ønsket ladetrykk [kPa]; target_kpa; boost_target kPa gauge
        Spjeldvinkel [%]; throttle_pct; throttle %
        Gasspedal [%]; throttle_pct; pedal %
        Innsugslufttemperatur [°C]; intake_c; intake_temperature C
        Kjølevæsketemperatur [°C]; coolant_c; coolant_temperature C
        Lufttrykk [hPa]; baro_kpa*10; barometer hPa abs
        Eksostemperatur [°C]; exhaust_c; exhaust_temperature_before_turbine C
        Tenningstidspunkt [°]; ignition_deg; ignition_advance deg
        Luftmasse [g/s]; flow_gs; air_flow g/s
        Hastighet [km/t]; speed_kmh; vehicle_speed km/h
        Dreiemoment [Nm]; torque_nm; torque Nm
        Batterispenning [V]; battery_v; battery_voltage V
    """,
    "script with dots": """
        log.time_ms; time_s*1000; time ms
        engine.speed.rpm; rpm; engine_speed rpm
        engine.intake.map_kpa; map_kpa; manifold_pressure kPa abs
        engine.throttle.plate_pct; throttle_pct; throttle %
        driver.accelerator_pct; throttle_pct; pedal %
        engine.intake.air_temp_c; intake_c; intake_temperature C
        engine.coolant.temp_c; coolant_c; coolant_temperature C
        ambient.pressure_kpa; baro_kpa; barometer kPa abs
        boost.target_kpa; target_kpa; boost_target kPa gauge
        boost.wastegate_duty_pct; duty_pct; duty %
        exhaust.lambda; lambda; lambda 1
        ignition.advance_deg; ignition_deg; ignition_advance deg
        vehicle.speed_kmh; speed_kmh; vehicle_speed km/h
        exhaust.pre_turbine.pressure_kpa; turbine_kpa; turbine_inlet_pressure kPa gauge
    """,
    "czech": """
        Čas [s]; time_s; time s
        Otáčky motoru [ot/min]; rpm; engine_speed rpm
        Plnicí tlak [bar]; boost_kpa*0.01; boost bar gauge
        Požadovaný plnicí tlak [bar]; target_kpa*0.01; boost_target bar gauge
        Škrticí klapka [%]; throttle_pct; throttle %
        Plynový pedál [%]; throttle_pct; pedal %
        Teplota nasávaného vzduchu [°C]; intake_c; intake_temperature C
        Teplota chladicí kapaliny [°C]; coolant_c; coolant_temperature C
        Atmosférický tlak [kPa]; baro_kpa; barometer kPa abs
        Teplota výfukových plynů [°C]; exhaust_c; exhaust_temperature_before_turbine C
        Předstih zážehu [°]; ignition_deg; ignition_advance deg
        Hmotnost vzduchu [kg/h]; flow_gs*3.6; air_flow kg/h
        Rychlost vozidla [km/h]; speed_kmh; vehicle_speed km/h
        Točivý moment [Nm]; torque_nm; torque Nm
        Napětí baterie [V]; battery_v; battery_voltage V
    """,
}
