"""Engine words of further languages: which concepts of `vocabulary` they stand for.

Written as in the language; accents and case are folded when the table is read. A line is one or several
concepts and the words that stand for all of them. "=" marks a word that counts only when it stands alone;
the others are also found inside compounds and before endings, so stems are enough ("давлен" for давление
and давления). From memory: common technical vocabulary, no source.
"""

from __future__ import annotations

_EASTERN = {
    "Czech and Slovak": """
        TIME: čas; ENGINE: motoru motora; ROTATION: otáčky otáček; ENGINE ROTATION: otáčkymotoru
        SPEED: rychlost rýchlosť; VEHICLE: vozidla vozidlo auta; PRESSURE: tlak
        BOOST: plnicí plnící plniaci přeplňování preplňovania
        MANIFOLD: sacího saciho sběrné potrubí potrubi; INTAKE: sání sací nasávaného nasávaný nasávaneho
        THROTTLE: škrticí škrtící škrtiacej škrtiaca =klapky klapka
        PEDAL: pedálu plynový plynového akcelerátor; POSITION: poloha úhel uhol natočení otevření
        TARGET: požadovaný požadované požadovaná žádaný žádaná cílový
        ACTUAL: skutečný skutečná skutečné naměřený; TEMPERATURE: teplota; AIR: vzduchu vzduch
        FLOW: průtok prietok; MASS: hmotnost hmotnosť; EXHAUST: výfuk výfukových spalin
        COOLANT: chladicí chladící chladiva chladiacej; FLUID: kapaliny kvapaliny plynů
        BARO: atmosférický barometrický; AMBIENT: okolí okolního venkovní; ADVANCE: předstih predstih
        IGNITION: zážehu zapalování zapaľovania; TORQUE: točivý krútiaci kroutící; POWER: výkon
        GEAR: převodový =stupeň rychlostní; BATTERY: baterie akumulátor akumulátoru; VOLTAGE: napětí napätie
        OIL: oleje olej; FUEL: paliva palivo; DUTY: střída strieda plnění
        SOLENOID: elektroventil elektromagnetický; BEFORE: =před; AFTER: =za
        TURBO: turbodmychadla turbodmychadlo; WATER: =vody; COOLER: mezichladič mezichladiče; KNOCK: klepání""",
    "Hungarian": """
        TIME: idő; ENGINE: motor; ROTATION: fordulatszám fordulat; SPEED: sebesség; VEHICLE: jármű gépjármű
        PRESSURE: nyomás; BOOST PRESSURE: töltőnyomás turbónyomás feltöltőnyomás; BOOST: feltöltő
        MANIFOLD: szívócső szívósor; INTAKE: beszívott szívó szívott; THROTTLE: fojtószelep pillangószelep
        PEDAL: gázpedál pedál; POSITION: állás helyzet =szög nyitás; TARGET: előírt kívánt =cél parancsolt
        ACTUAL: tényleges mért aktuális; TEMPERATURE: hőmérséklet =hőm hőfok; AIR: levegő
        AIR MASS: légtömeg; FLOW: áramlás; AIR FLOW: légáram; EXHAUST: kipufogó kipufogógáz
        COOLANT: hűtővíz hűtőfolyadék; BARO: légköri barometrikus; BARO PRESSURE: légnyomás
        AMBIENT: környezeti külső; IGNITION ADVANCE: előgyújtás; IGNITION: gyújtás
        TORQUE: nyomaték forgatónyomaték; POWER: teljesítmény; GEAR: sebességfokozat fokozat
        BATTERY: akkumulátor akku; VOLTAGE: feszültség; OIL: olaj; FUEL: üzemanyag; DUTY: kitöltés kitöltési
        SOLENOID: mágnesszelep; BEFORE: =előtt előtti; AFTER: =után utáni; WATER: =víz; KNOCK: kopogás
        RATIO: arány tényező; COOLER: töltőlevegőhűtő""",
    "Romanian": """
        TIME: timp timpul; ENGINE: motorului; ROTATION: turație turația turatie turații
        SPEED: viteză viteza; VEHICLE: vehicul vehiculului mașină; PRESSURE: presiune presiunea
        BOOST: supraalimentare; INTAKE: admisie admisia admis; MANIFOLD: colector galerie galeria
        THROTTLE: clapetă clapeta obturator; PEDAL: pedală pedala
        POSITION: poziție poziția deschidere unghi; TARGET: dorită dorit cerută cerut țintă prescrisă
        ACTUAL: reală măsurată măsurat; TEMPERATURE: temperatură temperatura; AIR: =aer aerului
        FLOW: debit debitul; MASS: masic masică; EXHAUST: evacuare eșapament
        FLUID: lichid lichidului gaze gazelor; COOLANT: răcire antigel; BARO: atmosferică barometrică
        AMBIENT: ambiantă exterioară; ADVANCE: avans avansul; IGNITION: aprindere aprinderii aprinderea
        TORQUE: cuplu cuplul; POWER: putere puterea; GEAR: treaptă treapta; BATTERY: baterie bateriei
        VOLTAGE: tensiune tensiunea; OIL: ulei uleiului; FUEL: combustibil benzină; BEFORE: înainte
        AFTER: după; DUTY: umplere; WATER: =apă =apei""",
    "Turkish": """
        TIME: zaman süre =saat saniye; ENGINE: motor; ROTATION: devir devri devirsayısı; SPEED: hız hızı
        VEHICLE: araç aracın; PRESSURE: basınç basıncı; BOOST: takviye aşırıbesleme
        MANIFOLD: manifoldu manifold; INTAKE: emme giriş; THROTTLE: kelebek kelebeği; PEDAL: pedalı pedal
        POSITION: konum konumu açısı =açı pozisyon pozisyonu; TARGET: hedef istenen; ACTUAL: gerçek ölçülen
        TEMPERATURE: sıcaklık sıcaklığı =ısı; AIR: =hava; FLOW: debi debisi akış akışı; MASS: kütle kütlesi
        EXHAUST: egzoz egzos; COOLANT: soğutma soğutucu hararet; WATER: =su =suyu; FLUID: sıvısı sıvı gazı
        BARO: atmosfer atmosferik barometrik; AMBIENT: ortam dış; ADVANCE: avans avansı; IGNITION: ateşleme
        TORQUE: tork; POWER: güç gücü; GEAR: vites; BATTERY: akü aküsü
        VOLTAGE: gerilim gerilimi voltaj voltajı; OIL: =yağ yağı; FUEL: yakıt; DUTY: görev doluluk
        BEFORE: öncesi önce; AFTER: sonrası sonra; TURBO: turbo; KNOCK: vuruntu; LAMBDA: lambda""",
    "Polish": """
        TIME: czas; ENGINE: silnika silnik; ROTATION: prędkość_obrotowa obrotów obrotowa; SPEED: prędkość
        VEHICLE: pojazdu samochodu; PRESSURE: ciśnienie ciśnienia; BOOST: doładowania doładowanie
        MANIFOLD: kolektor kolektorze kolektora; INTAKE: ssącym ssący dolot dolocie dolotowy zasysanego
        THROTTLE: przepustnicy przepustnica; PEDAL: pedał pedału przyspieszenia
        POSITION: położenie otwarcie otwarcia kąt pozycja; TARGET: żądane wymagane zadana docelowe
        ACTUAL: rzeczywiste zmierzone aktualne; TEMPERATURE: temperatura; AIR: powietrze powietrza
        FLOW: przepływ wydatek; MASS: masowy masowe; EXHAUST: spalin wydech wydechu wydechowych
        COOLANT: chłodzącej chłodziwa chłodzącego; FLUID: cieczy płynu; BARO: atmosferyczne barometryczne
        AMBIENT: otoczenia zewnętrzna; ADVANCE: wyprzedzenie wyprzedzenia; IGNITION: zapłonu zapłon
        TORQUE: obrotowy moment; POWER: moc; GEAR: bieg; BATTERY: akumulatora akumulator; VOLTAGE: napięcie
        OIL: oleju; FUEL: paliwa; DUTY: wypełnienie wypełnienia; SOLENOID: elektrozawór; BEFORE: =przed
        AFTER: =za; TURBO: turbosprężarki turbiny; KNOCK: stukowe""",
    "Russian": """
        TIME: время; ENGINE: двигател мотор; ROTATION: оборот вращен; SPEED: скорост
        VEHICLE: автомобил машин; PRESSURE: давлен; BOOST: наддув турбонаддув; MANIFOLD: коллектор
        INTAKE: впуск впускн; THROTTLE: дроссел заслонк; PEDAL: педал акселерат
        POSITION: положен угол угла открыт; TARGET: заданн целев желаем требуем
        ACTUAL: фактич реальн измерен текущ; TEMPERATURE: температур =темп; AIR: воздух воздушн
        FLOW: расход поток; MASS: массов масса; EXHAUST: выхлоп выпускн отработавш отработанн выпуск
        FLUID: жидкост =газов =газа; COOLANT: охлажда антифриз =ож; BARO: атмосферн барометр
        AMBIENT: окружающ наружн сред; ADVANCE: опережен; IGNITION: зажиган; TORQUE: крутящ момент
        POWER: мощност; GEAR: передач; BATTERY: аккумулятор акб батаре бортсет; VOLTAGE: напряжен; OIL: масл
        FUEL: топлив; DUTY: скважност шим заполнен; SOLENOID: соленоид электроклапан
        GATE: вестгейт перепускн; BEFORE: =до перед; AFTER: =после; TURBO: турбин турбокомпрессор =турбо
        LAMBDA: лямбда; KNOCK: детонац; WATER: =вода; COOLER: интеркулер; ABSOLUTE: абсолютн
        GAUGE: избыточн относительн; AFR: смесь смеси; ERROR: ошибк коррекц отклонен; LOAD: нагрузк""",
    "Ukrainian": """
        TIME: час; ENGINE: двигун; ROTATION: оберт обертан; SPEED: швидкіст швидкост
        VEHICLE: автомобіл авто машини; PRESSURE: тиск; BOOST: наддув; MANIFOLD: колектор
        INTAKE: впуск впускн; THROTTLE: дросел заслінк; PEDAL: педал акселератор
        POSITION: положенн кут відкрит; TARGET: заданий бажан цільов; ACTUAL: фактичн виміря
        TEMPERATURE: температур; AIR: повітр; FLOW: витрат потік; MASS: масов маса
        EXHAUST: вихлоп випускн відпрацьован; FLUID: рідин рідини =газів; COOLANT: охолодж
        BARO: атмосферн барометрич; AMBIENT: навколишн довкілл зовнішн; ADVANCE: випереджен
        IGNITION: запалюван; TORQUE: крутн момент; POWER: потужніст потужност; GEAR: передач
        BATTERY: акумулятор; VOLTAGE: напруг; OIL: олив мастил; FUEL: палив; BEFORE: =перед; AFTER: =після
        TURBO: турбін; LAMBDA: лямбда; ABSOLUTE: абсолютн; GAUGE: надлишков""",
    "Greek": """
        TIME: χρόνος χρόνου; ENGINE: κινητήρα κινητήρας μηχανής; ROTATION: στροφές στροφών; SPEED: ταχύτητα
        VEHICLE: οχήματος όχημα αυτοκινήτου; PRESSURE: πίεση πίεσης
        BOOST: υπερτροφοδότηση υπερπλήρωση υπερπλήρωσης υπερτροφοδότησης; MANIFOLD: πολλαπλή πολλαπλής
        INTAKE: εισαγωγή εισαγωγής; THROTTLE: πεταλούδα πεταλούδας; PEDAL: πεντάλ γκαζιού γκάζι επιταχυντή
        POSITION: θέση γωνία άνοιγμα; TARGET: στόχος επιθυμητή ζητούμενη; ACTUAL: πραγματική μετρημένη
        TEMPERATURE: θερμοκρασία; AIR: αέρα αέρας; FLOW: ροή παροχή; MASS: μάζα μάζας
        EXHAUST: καυσαερίων καυσαέρια εξαγωγή εξαγωγής εξάτμιση εξάτμισης; COOLANT: ψυκτικού ψυκτικό ψύξης
        FLUID: υγρού; BARO: βαρομετρική ατμοσφαιρική; AMBIENT: περιβάλλοντος εξωτερική
        ADVANCE: προπορεία αβάνς; IGNITION: ανάφλεξη ανάφλεξης; TORQUE: ροπή; POWER: ισχύς
        GEAR: σχέση κιβωτίου; BATTERY: μπαταρίας μπαταρία; VOLTAGE: τάση; OIL: λαδιού λάδι
        FUEL: καυσίμου καύσιμο; BEFORE: =πριν; AFTER: =μετά; LAMBDA: λάμδα
        TURBO: στροβίλου τουρμπίνας =τούρμπο; WATER: νερού; ABSOLUTE: απόλυτη; GAUGE: σχετική""",
}

_NORTHERN = {
    "Finnish": """
        TIME: aika; ENGINE: moottori moottorin; ROTATION: kierrosluku kierrosnopeus kierrokset kierros
        SPEED: nopeus; VEHICLE SPEED: ajonopeus; VEHICLE: ajoneuvo auton; PRESSURE: paine paineen
        BOOST PRESSURE: ahtopaine ahtopaineen; BOOST: ahto ahtimen; MANIFOLD: imusarja imusarjan
        INTAKE: =imu imuil; INTAKE AIR: imuilma imuilman; THROTTLE: kaasuläppä kaasuläpän
        PEDAL: kaasupoljin kaasupolkimen poljin polkimen; POSITION: asento asema avautuma kulma
        TARGET: tavoite tavoiteltu ohjearvo pyydetty; ACTUAL: mitattu todellinen
        TEMPERATURE: lämpötila =lämpö; AIR: ilman =ilma; AIR MASS: ilmamassa; AIR FLOW: ilmavirta
        FLOW: virtaus; MASS: massan; EXHAUST: pakokaasu pakokaasun pakosarjan pakosarja
        COOLANT: jäähdytysneste jäähdytysnesteen; BARO PRESSURE: ilmanpaine
        AMBIENT: ympäristön ulkoilman ulko; IGNITION ADVANCE: sytytysennakko ennakko
        IGNITION: sytytys sytytyksen; TORQUE: vääntömomentti vääntö; POWER: teho; GEAR: vaihde
        BATTERY: akku akun; VOLTAGE: jännite; BATTERY VOLTAGE: akkujännite; OIL: öljyn öljy
        FUEL: polttoaine polttoaineen; AFR: seossuhde; DUTY: pulssisuhde; BEFORE: ennen; AFTER: jälkeen
        TURBINE: turbiinin turbiini; WATER: =vesi; GATE: hukkaportti; ABSOLUTE: absoluuttinen""",
    "Danish and Norwegian": """
        TIME: tid; ENGINE: motor motorens; ROTATION: omdrejninger omdrejning omdreininger turtall turtal
        SPEED: hastighet hastighed; VEHICLE: kjøretøy køretøj bil; PRESSURE: trykk tryk
        BOOST: lade ladetrykk ladetryk; BOOST PRESSURE: ladetrykk ladetryk turbotrykk turbotryk
        MANIFOLD: manifold; INTAKE: innsug innsugs innsugsluft indsugning indsugnings inntak
        THROTTLE: spjeld spjæld gasspjeld gasspjæld; PEDAL: gasspedal gaspedal speeder
        POSITION: stilling åpning åbning; TARGET: ønsket ønskede =mål børverdi; ACTUAL: faktisk målt
        TEMPERATURE: temperatur; AIR: luft; FLOW: strøm gjennomstrømning; EXHAUST: eksos udstødning
        FLUID: væske væsken gass; COOLANT: kjøle køle kjølevæske kølevæske kjølevann kølevand
        BARO PRESSURE: lufttrykk lufttryk; BARO: atmosfærisk barometer
        AMBIENT: omgivelses omgivelser utetemperatur; IGNITION: tenning tænding tennings tændings
        ADVANCE: fortenning fortænding; TIMING: tidspunkt tenningstidspunkt tændingstidspunkt
        IGNITION TIMING: tenningstidspunkt tændingstidspunkt; TORQUE: dreiemoment drejningsmoment
        POWER: effekt; GEAR: =gir gear; BATTERY: batteri; VOLTAGE: spenning spænding; OIL: olje olie
        FUEL: drivstoff brændstof; BEFORE: før; AFTER: etter efter""",
    "Swedish": """
        TIME: tid; ROTATION: varvtal varv; BOOST: laddtryck; INTAKE: insug insugs insugsluft
        THROTTLE: trottel gasspjäll; PEDAL: gaspedal gaspådrag; POSITION: läge vinkel
        TARGET: börvärde önskat målvärde begärt; ACTUAL: ärvärde verkligt uppmätt; AIR FLOW: luftflöde
        AIR MASS: luftmassa; EXHAUST: avgas avgaser avgasernas; COOLANT: kylvatten kylvätska kylare
        IGNITION ADVANCE: förtändning tändförställning; AMBIENT: omgivning ute yttre
        VEHICLE SPEED: fordonshastighet; TORQUE: vridmoment moment; BATTERY VOLTAGE: batterispänning
        GATE: wastegateventil; BEFORE: före; AFTER: efter""",
}

_WESTERN = {
    "German": """
        TIME: zeit zeitpunkt; ROTATION: drehzahl umdrehungen; ENGINE ROTATION: motordrehzahl
        PEDAL: gaspedalstellung pedalwert pedalweg
        THROTTLE: drosselklappe drosselklappenstellung drosselklappenwinkel
        TARGET: sollwert soll führungsgröße gewünscht; ACTUAL: istwert gemessen
        COOLANT: kühlmittel kühlwasser; AIR FLOW: luftmassenstrom
        BARO PRESSURE: atmosphärendruck außendruck; AMBIENT: umgebungs außenluft
        INTAKE: ansaugluft saugluft; VEHICLE SPEED: fahrgeschwindigkeit fahrzeuggeschwindigkeit
        GEAR: gang gangstufe; TORQUE: motormoment radmoment; IGNITION ADVANCE: vorzündung frühzündung
        EXHAUST TEMPERATURE: abgastemperatur; AFR: luftverhältnis; DUTY: ansteuerung taktverhältnis""",
    "French": """
        TIME: temps horodatage; ROTATION: régime tours; PEDAL: accélérateur pédale
        THROTTLE: papillon boîtier_papillon; TARGET: consigne cible demandée demandé souhaitée
        ACTUAL: réelle mesurée actuelle; COOLANT: refroidissement; FLUID: liquide gaz; FLOW: débit
        MASS: massique; INTAKE: admission collecteur_admission; EXHAUST: échappement
        BARO: atmosphérique barométrique; AMBIENT: ambiante extérieure; ADVANCE: avance; IGNITION: allumage
        ERROR: richesse; DUTY: rco cyclique; BATTERY: batterie; TORQUE: couple; POWER: puissance
        POSITION: ouverture angle; BEFORE: avant amont; AFTER: après aval""",
    "Spanish, Portuguese and Italian": """
        TIME: tiempo tempo; ROTATION: revoluciones rpm rotações giri; ENGINE ROTATION: régimen
        PEDAL: acelerador pedal pedale acceleratore; THROTTLE: mariposa borboleta farfalla
        TARGET: objetivo deseada deseado consigna desejada desejado alvo obiettivo richiesta richiesto
        TARGET: desiderata; ACTUAL: real medida medido effettiva misurata
        COOLANT: refrigerante arrefecimento raffreddamento; FLUID: líquido liquido gases gas
        FLOW: caudal flujo vazão fluxo portata flusso; MASS: másico mássico massica
        INTAKE: admisión admissão aspirazione aspirata; EXHAUST: escape scarico
        BARO: atmosférica barométrica atmosferica barometrica; AMBIENT: ambiente exterior esterna
        ADVANCE: avance avanço anticipo; IGNITION: encendido ignição accensione
        TORQUE: torque binário coppia; POWER: potencia potência potenza; GEAR: marcha marcia
        VEHICLE: vehículo veículo veicolo; SPEED: velocidad velocidade velocità
        BATTERY: batería bateria batteria; VOLTAGE: tensión voltaje tensão tensione
        POSITION: posición posição posizione apertura abertura; AFTER: después depois dopo
        BEFORE: antes prima; DUTY: ciclo_trabajo; MANIFOLD: colector múltiple coletor collettore
        BOOST: soplado sopro sovralimentazione""",
    "Dutch": """
        TIME: tijd; ROTATION: toerental toeren; BOOST PRESSURE: laaddruk turbodruk vuldruk
        THROTTLE: gasklep smoorklep; PEDAL: gaspedaal; TARGET: gewenste gewenst setpunt doel
        ACTUAL: werkelijke gemeten; INTAKE: inlaat inlaatlucht aanzuig; EXHAUST: uitlaat uitlaatgas
        COOLANT: koelvloeistof koelwater; BARO PRESSURE: luchtdruk; AMBIENT: omgevings buiten omgeving
        IGNITION ADVANCE: voorontsteking; IGNITION: ontsteking; VEHICLE SPEED: rijsnelheid voertuigsnelheid
        TORQUE: koppel; POWER: vermogen; GEAR: versnelling; BATTERY VOLTAGE: accuspanning
        MANIFOLD: spruitstuk; AIR MASS: luchtmassa; AIR FLOW: luchtstroom; AFTER: =na; BEFORE: =voor""",
}

_ASIAN = {
    "Japanese": """
        TIME: 時間 時刻 経過; ENGINE: エンジン 機関; ROTATION: 回転数 回転 回転速度; SPEED: 速度
        VEHICLE SPEED: 車速; VEHICLE: 車両; PRESSURE: 圧力 圧; BOOST: ブースト 過給
        BOOST PRESSURE: 過給圧 ブースト圧; MANIFOLD: マニホールド マニホルド インマニ 吸気管
        INTAKE: 吸気 吸入 インテーク; THROTTLE: スロットル; PEDAL: アクセル ペダル; POSITION: 開度 位置 角度
        TARGET: 目標 要求 指示; ACTUAL: 実 測定; TEMPERATURE: 温度 温; COOLANT TEMPERATURE: 水温 冷却水温
        COOLANT: 冷却水 冷却; AIR: 空気; AIR FLOW: 空気量 吸入空気量 エアフロ; EXHAUST: 排気 排ガス
        EXHAUST TEMPERATURE: 排気温 排温; BARO PRESSURE: 大気圧; AMBIENT: 外気 大気
        AMBIENT TEMPERATURE: 外気温; IGNITION TIMING: 点火時期; IGNITION: 点火; ADVANCE: 進角; AFR: 空燃比
        LAMBDA: ラムダ; TORQUE: トルク; POWER: 出力 馬力; GEAR: ギア ギヤ シフト
        BATTERY: バッテリー バッテリ; VOLTAGE: 電圧; OIL: オイル 油; FUEL: 燃料
        DUTY: デューティ デューティー; GATE: ウェイストゲート ウエストゲート; SOLENOID: ソレノイド
        TURBO: ターボ; BEFORE: 前; AFTER: 後; TURBINE: タービン; COMPRESSOR: コンプレッサー; OUTLET: 出口
        KNOCK: ノック; ABSOLUTE: 絶対; GAUGE: ゲージ; ERROR: 補正 偏差""",
    "Chinese": """
        TIME: 时间 時間 时刻; ENGINE: 发动机 發動機 引擎; ROTATION: 转速 轉速; SPEED: 速度
        VEHICLE SPEED: 车速 車速; VEHICLE: 车辆; PRESSURE: 压力 壓力 压 壓; BOOST: 增压 增壓
        BOOST PRESSURE: 增压压力 增压值; MANIFOLD: 歧管; INTAKE: 进气 進氣; THROTTLE: 节气门 節氣門
        PEDAL: 油门 踏板 油門; POSITION: 开度 位置 角度 開度; TARGET: 目标 目標 设定 期望; ACTUAL: 实际 實際
        TEMPERATURE: 温度 溫度 温; COOLANT TEMPERATURE: 水温 水溫; COOLANT: 冷却液 冷却水 冷卻液
        AIR: 空气 空氣; FLOW: 流量; MASS: 质量; AIR FLOW: 空气流量 进气量; EXHAUST: 排气 排氣
        EXHAUST TEMPERATURE: 排温 排气温度; BARO PRESSURE: 大气压 大气压力 大氣壓; AMBIENT: 环境 環境 外界
        IGNITION: 点火 點火; ADVANCE: 提前角 提前; IGNITION TIMING: 点火正时; AFR: 空燃比
        LAMBDA: 过量空气系数; TORQUE: 扭矩 转矩; POWER: 功率; GEAR: 档位 挡位 档
        BATTERY: 电池 蓄电池 电瓶 電池; VOLTAGE: 电压 電壓; OIL: 机油; FUEL: 燃油 燃料; DUTY: 占空比
        GATE: 废气阀 旁通阀 废气门; SOLENOID: 电磁阀; TURBO: 涡轮 渦輪; BEFORE: 前; AFTER: 后 後
        ABSOLUTE: 绝对 絕對; GAUGE: 相对 表压; ERROR: 修正 误差""",
    "Korean": """
        TIME: 시간; ENGINE: 엔진; ROTATION: 회전수 회전 회전속도; SPEED: 속도; VEHICLE SPEED: 차속
        VEHICLE: 차량; PRESSURE: 압력 압; BOOST: 부스트 과급; MANIFOLD: 매니폴드 흡기관; INTAKE: 흡기 흡입
        THROTTLE: 스로틀; PEDAL: 페달 가속 액셀; POSITION: 개도 위치 각도; TARGET: 목표 요구; ACTUAL: 실제
        TEMPERATURE: 온도; COOLANT: 냉각수; COOLANT TEMPERATURE: 수온; AIR: 공기; AIR FLOW: 공기량
        FLOW: 유량; EXHAUST: 배기 배기가스; BARO PRESSURE: 대기압; AMBIENT: 외기 대기 주위; IGNITION: 점화
        TIMING: 시기; ADVANCE: 진각; AFR: 공연비; LAMBDA: 람다; TORQUE: 토크; POWER: 출력 마력
        GEAR: 기어 단수; BATTERY: 배터리; VOLTAGE: 전압; OIL: 오일 유온; FUEL: 연료; DUTY: 듀티
        GATE: 웨이스트게이트; TURBO: 터보; ABSOLUTE: 절대""",
}

# Short forms of network signals, bench systems and capitals: open habits, no maker's list.
_SHORTHAND = {
    "signals": """
        TIME: timesec =sys =ti; ENGINE: =engn =icengine; ROTATION: =nengine =neng rotational
        ENGINE ROTATION: =neng; INTAKE: =intk =inl =intake1 =itk
        MANIFOLD: =mnf =manf =manif =mani =mfold =mnfd; PRESSURE: =prs =prss
        THROTTLE: =thrvlv =thrv =throt =thrpos throttlevalve =throttlevalve
        PEDAL: accelped =accped =accelpedal =acclpedal =accpdl =pedpos =ped =pdl
        POSITION: =psn =posn =alpha =phi; TARGET: =desd =dsrd =spt =setp =tar =trgt =reqd =rqst =nominal
        ACTUAL: =actl =msrd; COOLANT: =cool =coolnt =clnt =cltmp =coolt; COOLANT TEMPERATURE: =ect =clt
        AIR: =ai; AMBIENT: =env =ambt =ambnt =ambtemp; TURBINE: =trbn =trb =tbn; BEFORE: =befr =upstrm
        AFTER: =ds =aftr =dwnstrm; EXHAUST: =exhst =exhgas; VEHICLE: =vhcl
        BATTERY: =btry =bttry =batpot batterypotential; VOLTAGE: potential; GATE: =wgt =wga
        BOOST: =bst =boostp; WATER: =h2o; MASS FLOW: =mdot =dm =mdotair; TORQUE: =tqe =torq; POWER: =pow
        OIL: =eot =eop; OIL PRESSURE: =eop; FUEL: =frp; LAMBDA: =lmbd =lambd; IGNITION: =ignit =zwaus
        ADVANCE: =advn; VEHICLE SPEED: =vspd =vehspd wheelbased; CHARGE: =chrg =chrgair
        COOLER: =clr =chgclr; COMPRESSOR: =cmpr =cmprs; FLUID: fluid; GEAR: =gr""",
}

LANGUAGES: dict[str, str] = _EASTERN | _NORTHERN | _WESTERN | _ASIAN | _SHORTHAND


def entries() -> list[tuple[frozenset[str], str, bool]]:
    """(concepts, word as written, may stand inside a compound) of every language."""
    found = []
    for text in LANGUAGES.values():
        for item in text.replace("\n", ";").split(";"):
            said, _, words = item.strip().partition(":")
            for word in words.split():
                found.append((frozenset(said.split()), word.lstrip("=").replace("_", ""), word[0] != "="))
    return found
