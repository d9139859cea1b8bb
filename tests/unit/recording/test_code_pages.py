"""A log without a mark of its encoding, in the code page of the country that it comes from."""

from __future__ import annotations

import pytest

from boostproof.recording.readers.encoding import find_encoding


@pytest.mark.parametrize(
    ("page", "header"),
    [
        ("cp1252", "Zeit [s];Motordrehzahl;Ladedruck;Kühlmitteltemperatur [°C];Zündwinkel"),
        ("cp1252", "Temps;Régime moteur;Température d'admission;Pédale"),
        ("cp1252", "Time,RPM,Boost (kPa),IAT (°C)"),
        ("cp1250", "Čas [s];Otáčky motoru;Plnicí tlak;Škrticí klapka"),
        ("cp1250", "Czas;Prędkość obrotowa silnika;Ciśnienie doładowania;Położenie przepustnicy"),
        ("cp1251", "Время, с;Обороты двигателя;Давление наддува;Дроссель"),
        ("cp1253", "Χρόνος;Στροφές κινητήρα;Πίεση πολλαπλής εισαγωγής;Θέση πεταλούδας"),
        ("cp1254", "Zaman;Motor devri;Turbo basıncı;Gaz kelebeği açısı;Soğutma suyu sıcaklığı"),
        ("cp932", "時間[s],エンジン回転数[rpm],ブースト圧[kPa],スロットル開度[%]"),
        ("gb18030", "时间,发动机转速,进气压力,节气门开度"),
        ("cp949", "시간,엔진 회전수,흡기 압력,스로틀 개도"),
    ],
)
def test_the_code_page_is_the_one_in_which_the_headers_are_words(page: str, header: str) -> None:
    data = (header + "\n" + "0,1,2,3,4\n" * 20).encode(page)
    found = find_encoding(data, "log.csv")
    assert data.decode(found) == data.decode(page)
