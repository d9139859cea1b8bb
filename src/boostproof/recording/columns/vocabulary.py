"""Words of log headers in the languages of most logs, and the concepts they stand for.

Common technical vocabulary (English, German, French, Spanish, Italian, Portuguese, Dutch, Swedish, Danish and
Norwegian, Polish, Finnish, Czech), from memory; further languages stand in `languages`. The short forms are
those of the trade and of open standards (service 01 of SAE J1979, signal names as in SAE J1939), from memory.
"""

from __future__ import annotations

# concept: words, accents folded ("ü" = "u"; German also in the spelling "ue"). "=" marks a word that
# counts only when it stands alone; the others are also found inside compounds.
WORDS: dict[str, str] = {
    "TIME": (
        "time timestamp =t elapsed zeit temps tiempo tempo =tid tijd czas aika cas =clock =sec =secs "
        "=seconds zeitstempel horodatage =uhrzeit =hora =heure =ora"
    ),
    "ENGINE": "engine =eng motor moteur =mot silnik moottori motore =ice crankshaft kurbelwelle",
    "ROTATION": (
        "rpm =n revs =rev drehzahl regime =tr varvtal omdrejningstal omdreininger turtall toerental giri "
        "rotacao rotacoes revoluciones =vueltas obroty otacky kierrosluku regimen rotations rotation "
        "=toeren =nmot"
    ),
    "SPEED": (
        "speed =spd geschwindigkeit vitesse velocidad velocita velocidade snelheid hastighet hastighed "
        "=velocity predkosc nopeus rychlost"
    ),
    "VEHICLE": (
        "vehicle =veh fahrzeug vehicule vehiculo veicolo voertuig fordon =car =auto =gps road ground =fzg"
    ),
    "WHEEL": "wheel =whl rueda roue ruota =rad =hjul =wiel",
    "TURBO": "turbo =turb turbocharger turbolader =tc =turbocompresseur",
    "SHAFT": "shaft =welle arbre =eje albero axel",
    "TURBINE": "turbine turbin turbina",
    "COMPRESSOR": "compressor =comp verdichter compresseur compresor compressore kompressor =cmp sprezarka",
    "PRESSURE": (
        "pressure press =prs =pres druck pression presion pressione pressao tryck trykk =tryk druk "
        "cisnienie paine tlak =p"
    ),
    "BOOST": (
        "boost ladedruck suralimentation sobrealimentacion sobrealimentacao sovralimentazione laddtryck "
        "ladetrykk ladetryk laaddruk turbodruk turbotryck turbodruck doladowania ahtopaine =ldr =plad "
        "=bst supercharging"
    ),
    "MAP": "map tmap",
    "MANIFOLD": (
        "manifold =man =mnfld saugrohr collecteur colector collettore plenum spruitstuk grenror sammler "
        "sugeror =mfd saugrohrdruck insugsror coletor =runner"
    ),
    "INTAKE": (
        "intake inlet =int =ind induction ansaug admission admision aspirazione inlaat insug =sug "
        "aspirata admissao indsugning innsug einlass dolotowego imusarja =asp"
    ),
    "CHARGE": "charge =chg ladeluft laddluft ladeluf carica =carga ladelufts",
    "PIPE": "pipe tube rohr tuyau tubo =ror leiding tubing conduit",
    "THROTTLE": (
        "throttle =thr =thrtl =tp drosselklappe papillon mariposa farfalla gasklep trottel spjall "
        "gasspjall drossel borboleta gasspjeld gasspjaeld spjaeld przepustnica kaasulappa =dk =dkl "
        "=tb =tbw =etc =etb =plate =blade"
    ),
    "PEDAL": (
        "pedal accelerator =accel =acc pedale acelerador accelerateur fahrpedal gaspedal gaspedaal "
        "pedalen =app =pps acceleratore acceleratorn =driver pedaal"
    ),
    "POSITION": (
        "position =pos angle =ang winkel stellung opening offnung oeffnung ouverture apertura lage "
        "lagesollwert vinkel =hoek posizione stand =percent =pct klappe posicion lift travel"
    ),
    "TARGET": (
        "target =tgt desired =des setpoint =set requested =req request demand commanded =cmd soll "
        "sollwert consigne objetivo obiettivo borvarde onskat gewenst streef =demanded richiesta =goal "
        "wunsch specified vorgabe =wanted =ref zadane =mal malvarde solicitada demande ledesollwert =alvo "
        "=aim =sp"
    ),
    "CURRENT": "current amps amperage",
    "ACTUAL": (
        "actual =act ist istwert measured mesure mesuree medido misurata faktisk aktuell =meas =real "
        "reelle gemeten uppmatt reel =live signal sensor =sens =val value =wert valeur valor "
        "varde =raw filtered =filt smoothed =log channel kanal"
    ),
    "DUTY": (
        "duty =dc =dty =pwm tastverhaltnis tastverhaeltnis tastgrad cyclique dutycycle =cycle =ciclo "
        "trabajo =tv pulskvot =lavoro inschakelduur einschaltdauer"
    ),
    "GATE": "wastegate =wg waste ladedruckventil bypassklappe =gate =soupape",
    "SOLENOID": "solenoid =sol magnetventil electrovanne electrovalvula elettrovalvola =valve ventil =ebcs",
    "CONTROL": (
        "control =ctrl controller regelung regler regulation regulering commande controle styrning "
        "=steuerung =output =command regulacion mando"
    ),
    "TEMPERATURE": "temperature =temp =tmp temperatur temperatura temperatuur lampotila teplota =tem",
    "AIR": "air luft aire aria lucht =ilma powietrza vzduch =ar =lft",
    "FLOW": (
        "flow strom debit caudal portata massenstrom durchfluss luftmassa =fluss flode doorstroom fluxo "
        "przeplyw luftflode"
    ),
    "MASS": "mass masse masa massa =mas",
    "EXHAUST": (
        "exhaust =exh abgas echappement escape avgas scarico uitlaat =ex =eg udstodning eksos spalin "
        "pakokaasu =krummer auspuff escapamento gasgegendruck"
    ),
    "BACK": (
        "back gegendruck contrepression contrapresion mottryck =gegen tegendruk contropressione "
        "backpressure"
    ),
    "DRIVE": "=drive",
    "BEFORE": (
        "=pre before =vor upstream avant antes fore innan =prima voor =bef =ante przed =foran amont "
        "=pretb =entry"
    ),
    "AFTER": (
        "=post after nach downstream apres despues efter =dopo =aft =behind =past =etter aval depois "
        "hinter =na =po"
    ),
    "OUTLET": "outlet =out discharge austritt sortie salida uscita =utlopp exit saida auslass utgang",
    "COOLER": (
        "intercooler cooler =ic =llk ladeluftkuhler ladeluftkuehler echangeur laddluftkylare aftercooler "
        "=cac intercooleur =refroidisseur ladeluftskyler"
    ),
    "CATALYST": (
        "catalyst =cat =kat katalysator catalyseur catalizador downpipe =dp hosenrohr catalizzatore"
    ),
    "BARO": (
        "baro barometri barometer barometric barometrique barometrica barometrico atmospheric "
        "atmospherique "
        "atmosferica atmosphere atmosfarstryck atmospharendruck atmosphaerendruck umgebungsdruck =atm "
        "=bap buitendruk omgivningstryck barometre barometerstand barometrisch atmosfaerisk barometryczne "
        "=patm =pamb barometertryck"
    ),
    "AMBIENT": (
        "ambient =amb umgebung ambiant ambiente outside aussen exterieur exterior omgivning utomhus "
        "buiten esterna ute =outdoor"
    ),
    "ABSOLUTE": "absolute =abs absolut absolue absolu absoluta absoluto assoluta absoluut absolutny =absol",
    "GAUGE": (
        "gauge =gage =rel relative relativ relatif uberdruck ueberdruck overdruk overtryck manometrique "
        "relativa =manometrica overtrykk"
    ),
    "LAMBDA": "lambda =lam =lmb =la =sonda",
    "AFR": "afr =a/f =lambdaafr",
    "WIDEBAND": "wideband =wb =wbo2 =o2 breitband bredband =uego =wbo",
    "FUEL": (
        "fuel =rail kraftstoff carburant combustible bransle brandstof carburante benzin =essence sprit "
        "drivstoff =fpr =gasolina combustivel paliwa"
    ),
    "RATIO": "ratio verhaltnis verhaeltnis =rapporto forhallande =mixture gemisch",
    "IGNITION": (
        "ignition =ign spark zund zuend zundung zuendung allumage encendido accensione tandning "
        "ontsteking =sprk zundwinkel zuendwinkel =zzp tenning allumaggio ignicao zaplonu"
    ),
    "TIMING": "timing vorverstellung =tmg zeitpunkt",
    "ADVANCE": (
        "advance =adv avance anticipo fortandning voorontsteking fruhverstellung =avanzamento avanco"
    ),
    "RETARD": (
        "retard retardation retardo spatverstellung spaetverstellung rucknahme ruecknahme ritardo =pull"
    ),
    "KNOCK": "knock klopf klopfen cliquetis detonation picado detonazione knack =kr =kn pingel knackning",
    "GEAR": (
        "gear =gang rapport marcha marcia vaxel versnelling =gir =vitesseboite =bieg =vaihde gearbox "
        "=fahrstufe engaged engrenee"
    ),
    "TORQUE": (
        "torque =tq =trq drehmoment couple =par coppia vridmoment koppel =moment dreiemoment "
        "torsion binario"
    ),
    "POWER": "power leistung puissance potencia potenza effekt vermogen =pwr =moc teho",
    "COOLANT": (
        "coolant =ect =clt =cts kuhlmittel kuehlmittel kuhlwasser kuehlwasser refroidissement "
        "refrigerante kylvatten koelvloeistof koelwater refrigerant =kmt kjolevann kolevand"
    ),
    "WATER": "water wasser eau agua acqua vatten",
    "OIL": "oil huile aceite =olio olja olie motorol motoroel =ol =oel",
    "BATTERY": (
        "battery =batt =bat =vbat =ubat batterie bateria batteria accu batteri supply bordspannung "
        "bordnetz bordnetzspannung akku"
    ),
    "VOLTAGE": "voltage =volt =volts spannung tension voltaje tensione spanning tensao napiecie voltios",
    "ETHANOL": "ethanol alcohol =flex e85 =flexfuel",
    "INJECTOR": "injector =inj injection einspritz injecteur inyector iniettore =idc insprutning injektor",
    "LINE": "=line hose schlauch =slang signalline",
    "ACTUATOR": (
        "actuator stellglied =aktuator attuatore actionneur =dose membran stelldruck =actr druckdose "
        "unterdruckdose capsule"
    ),
    "UPPER": "upper =top =dome obere oben superieure =lid",
    "CUT": "cut limiter begrenzer limiteur =fuelcut coupure",
    "ERROR": (
        "error =err deviation abweichung =delta =diff difference ecart =trim correction =corr korrektur "
        "=integral =proportional =kp =ki =max =min =peak limit offset =adapt adaption learned gain "
        "=counter =count =status =flag =state maximum minimum =avg average =std"
    ),
    "LOAD": "=load last motorlast =lod",
    "DISTANCE": "distance strecke =odometer =odo =trip",
    "HUMIDITY": "humidity feuchte humidite",
    "VACUUM": "vacuum depression =vac unterdruck",
    "GEARBOX": "transmission getriebe =trans oljelada =gearoil",
    "ALTITUDE": "altitude hohe hoehe",
    "IDLE": "idle leerlauf ralenti",
    "CAM": "cam camshaft nockenwelle =vvt",
    "CRANKCASE": "crankcase kurbelgehause",
    "FILTER": "filter airbox",
    "PURGE": "purge evap canister =egr =agr",
    "FAN": "=fan lufter luefter ventilateur ventilador",
    "PUMP": "pump pompe =bomba",
    "FLUID": "liquid liquide flussigkeit =gasses =gaser gazow gazu",
    "RAW": "=adc =counts =digits =lsb",
    "INDEX": "=index =nr =no =sample =row =laufnummer =id =lap",
}

# Usual short names that say several things at once.
SHORT: dict[str, str] = {
    "iat": "INTAKE AIR TEMPERATURE", "mat": "MANIFOLD AIR TEMPERATURE", "ait": "INTAKE AIR TEMPERATURE",
    "ect": "COOLANT TEMPERATURE", "clt": "COOLANT TEMPERATURE",
    "cts": "COOLANT TEMPERATURE", "egt": "EXHAUST TEMPERATURE", "agt": "EXHAUST TEMPERATURE",
    "ebp": "EXHAUST BACK PRESSURE", "emap": "EXHAUST MANIFOLD PRESSURE", "emp": "EXHAUST MANIFOLD PRESSURE",
    "tip": "BEFORE THROTTLE PRESSURE", "tps": "THROTTLE POSITION", "maf": "AIR FLOW", "hfm": "AIR FLOW",
    "vss": "VEHICLE SPEED", "wgdc": "GATE DUTY", "wgd": "GATE DUTY", "wgp": "GATE POSITION",
    "idc": "INJECTOR DUTY", "vbat": "BATTERY VOLTAGE", "vbatt": "BATTERY VOLTAGE",
    "ubat": "BATTERY VOLTAGE", "ubatt": "BATTERY VOLTAGE", "amf": "AIR FLOW", "luftmasse": "AIR MASS",
    "luftmassa": "AIR MASS", "nmot": "ENGINE ROTATION", "plad": "BOOST PRESSURE",
    "tit": "TURBINE BEFORE TEMPERATURE",
    "tabg": "EXHAUST TEMPERATURE", "tans": "INTAKE TEMPERATURE", "tmot": "COOLANT TEMPERATURE",
    "pumg": "BARO PRESSURE", "tlad": "CHARGE TEMPERATURE", "pabg": "EXHAUST PRESSURE",
    "plsoll": "BOOST PRESSURE TARGET", "psaug": "MANIFOLD PRESSURE", "airflow": "AIR FLOW",
    "vmot": "ENGINE SPEED", "p3": "TURBINE BEFORE PRESSURE", "t3": "TURBINE BEFORE TEMPERATURE",
    "p4": "TURBINE AFTER PRESSURE", "p1": "PRESSURE", "p2": "PRESSURE",
    "t4": "TURBINE AFTER TEMPERATURE", "umgebungsdruck": "BARO PRESSURE",
    "ladeluftdruck": "BOOST PRESSURE", "rapportcyclique": "DUTY", "gasgegendruck": "BACK PRESSURE",
    "abgasgegendruck": "EXHAUST BACK PRESSURE", "luftdruck": "BARO PRESSURE", "lufttryck": "BARO PRESSURE",
    "luchtdruk": "BARO PRESSURE", "ladedruck": "BOOST PRESSURE", "laddtryck": "BOOST PRESSURE",
    "laaddruk": "BOOST PRESSURE", "ladetrykk": "BOOST PRESSURE", "ladetryk": "BOOST PRESSURE",
    "turbodruk": "BOOST PRESSURE", "turbotryck": "BOOST PRESSURE", "turbodruck": "BOOST PRESSURE",
    "ahtopaine": "BOOST PRESSURE", "umgebungstemperatur": "AMBIENT TEMPERATURE",
    "aussentemperatur": "AMBIENT TEMPERATURE", "turboladerdrehzahl": "TURBO ROTATION",
    "laderdrehzahl": "TURBO ROTATION", "kuhlmitteltemperatur": "COOLANT TEMPERATURE",
    "kuehlmitteltemperatur": "COOLANT TEMPERATURE", "gegendruck": "BACK PRESSURE",
    "mottryck": "BACK PRESSURE", "tegendruk": "BACK PRESSURE", "contrepression": "BACK PRESSURE",
    "contrapresion": "BACK PRESSURE", "contropressione": "BACK PRESSURE",
    "backpressure": "EXHAUST BACK PRESSURE",
    "saugrohrdruck": "MANIFOLD PRESSURE", "massenstrom": "MASS FLOW", "stelldruck": "ACTUATOR PRESSURE",
    "uberdruck": "GAUGE PRESSURE", "ueberdruck": "GAUGE PRESSURE", "overdruk": "GAUGE PRESSURE",
    "overtryck": "GAUGE PRESSURE", "overtrykk": "GAUGE PRESSURE", "unterdruck": "VACUUM PRESSURE",
    "spatverstellung": "IGNITION RETARD", "spaetverstellung": "IGNITION RETARD",
    "fruhverstellung": "IGNITION ADVANCE", "zundwinkel": "IGNITION POSITION",
    "zuendwinkel": "IGNITION POSITION", "tandvinkel": "IGNITION POSITION",
    "oldruck": "OIL PRESSURE", "oeldruck": "OIL PRESSURE", "oltemperatur": "OIL TEMPERATURE",
    "oeltemperatur": "OIL TEMPERATURE", "oljetryck": "OIL PRESSURE",
    "laddtrycksmal": "BOOST PRESSURE TARGET", "batteriespannung": "BATTERY VOLTAGE",
    "bordspannung": "BATTERY VOLTAGE", "bordnetzspannung": "BATTERY VOLTAGE",
    "fortandning": "IGNITION ADVANCE", "omgivningstryck": "BARO PRESSURE",
    "atmosfarstryck": "BARO PRESSURE", "buitendruk": "BARO PRESSURE", "barometertryck": "BARO PRESSURE",
    "atmospharendruck": "BARO PRESSURE", "atmosphaerendruck": "BARO PRESSURE",
}  # fmt: skip

# Phrases whose words mean something else alone ("rapport" is also a gear, "vitesse" a speed).
PHRASES = (
    (r"\brapport cyclique\b", "duty"), (r"\bciclo de trabajo\b", "duty"), (r"\bduty cycle\b", "duty"),
    (r"\bboite de vitesses?\b", "gearbox"), (r"\bgas pedal\b", "pedal"),
    (r"\bgas flow\b", "flow"), (r"\bback pressure\b", "backpressure"),
    (r"^\s*act\s*$", "iat"),  # air charge temperature; beside other words "act" is "actual"
    (r"\bt\s?°", "temperature "), (r"(?<=[^\W\d_]{3} )des (?=[^\W\d_]{3})", ""),  # French
    (r"\bla (?=[^\W\d_]{3})", ""),  # an article before a word, lambda alone
    (r"\b(?:before|after) tdc\b", ""), (r"\bcontrol module\b", "battery"),
    (r"\bpressed\b", ""), (r"^\s*ga[sz]s?\s*$", "pedal throttle"),  # which of the two is asked
    # What sensors are fed with, and quantities that share a word with one of ours.
    (r"\b5\s?v(?:olts?)? supply\b", "status"),
    (r"\bper (?:stroke|cycle|cyl(?:inder)?)\b", "status"), (r"\baccel\w*\b.*\bg\b", "status"),
)  # fmt: skip
_TEXT = (
    "gas gaz gases the of and der die das des del della dello dei delle van het voor den det les aux "
    "dans sur par pour con por para bij med och til fra av mit bei im am all total nr lh rh bank cyl "
)
SAYS_NOTHING = frozenset(_TEXT.split())
