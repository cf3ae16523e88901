"""Invented people of the invented Quillmoor County."""

CLIENTS = (
    "Odalys Fenwright", "Barnaby Quist", "Siobhán O’Hallorayne", "Nguyễn Thị Ánh Tuyết",
    "يوسف الزهراني النجّار", "Maximiliana Featherstonehaugh-Oyelowo-Brandtzæg", "Tuncay Ardahan",
    "Wilhelmina Pottsgrove", "Ike Dunmarrow", "Xiomara Del Valle-Ibarrola", "Agnieszka Wróblewicz",
    "Ró Vane", "Thaddeus Mallowby", "Phạm Văn Quý", "Lakshmi Venkataraghavan", "Ezekiel Thornquay",
    "Marisela Quintabril", "D’Andre Lockswell", "Åse Ljungtorp", "Constantine Pappadimos",
    "Winnifred Harrowgate", "Oluwaseun Adébámbọ̀", "Hyacinth Merriweather-Poole", "Jun-ho Baek",
    "Rosalind Cattermoor", "Teodoro Escamillos", "Birgitta Skogsund", "Amara Nwachukwu-Bell",
    "Leopold Zwickelmann", "Fatoumata Diarrassou", "Gideon Ashwater", "Luz María Peñaclara",
    "Cornelius Vanderhoop-Tamm", "Noor Al-Rashidan", "Pritam Dhanowal", "Euphemia Larkspur",
    "Otis Brackenridge-Vale", "Ýrsa Hrafnkelsdóttir", "Cletus Wainfleet", "Sakura Minamizato",
    "Ignacio Fuentebella", "Delphine Rochambault", "Marguerite St. Aubrey", "Kofi Ansah-Tetteh",
    "Temperance Goodhollow", "Đặng Bảo Trâm", "Lev Orlovsky-Gant", "Magnolia Prewittson",
    "Hamish McCorquendale", "Zuleyka Montaralvo", "Alfonso Bellacroce", "Ottoline Greaves-Nakai",
    "Jedediah Pruitt-Holloway", "Yevgenia Sokolnikova", "Blessing Okonjo-Reyes", "Walt Simmerdale",
)  # fmt: skip

SPANISH_SPEAKERS = {
    "Xiomara Del Valle-Ibarrola",
    "Marisela Quintabril",
    "Luz María Peñaclara",
    "Zuleyka Montaralvo",
}

CREWS = {
    "Crew Alder": ("Casimir Oyelaran", "Tilda Brockmann", "Reuben Castellanox"),
    "Crew Birch": ("Brannoch Tveit", "Shanthi Ramadurai"),
    "Crew Cedar": ("Philippa Drumgoole", "Mateo Arrozal", "Wendell Okparanta"),
}
"""Each crew's people; the first carries the phone."""

STAFF = {
    "office": ("office", "Odette Marchbanks"),
    "inspector": ("inspector", "Ignatius Pellworth"),
    "manager": ("manager", "Marisol Vandergriff"),
    "admin": ("admin", "Adaeze Whitcombe"),
}
"""Role and name by user name."""

CREW_LOG_INS = {"crew": "Crew Alder", "crew2": "Crew Birch", "crew3": "Crew Cedar"}
"""User name of each crew's phone carrier."""

STREETS = (
    "Larkspur Lane", "Coldwater Street", "Old Mill Road", "Wickenberry Avenue", "N Ferris Street",
    "Heron Pond Road", "County Road 18", "Saint Osric Street", "Tamarack Court", "Plank Road",
    "Quarryman’s Row", "Sugarbush Drive", "E Cordelia Street", "Windrow Lane", "Blue Heifer Road",
    "Lantern Hill", "Mapleseed Terrace", "S Depot Street", "Bellwether Way", "Thistledown Circle",
)  # fmt: skip

TOWNS = (
    # town, postal code, county code, elevation [m]
    ("Tarn Hollow", "00155", "99001", 262),
    ("Quill Landing", "00151", "99001", 241),
    ("Ostrander’s Mill", "00158", "99001", 287),
    ("Lower Hattersley", "00162", "99003", 305),
    ("Briar Junction", "00164", "99003", 318),
    ("Sawtooth Corners", "00171", "99005", 436),
)
COUNTIES = {"99001": "Quillmoor", "99003": "Hattersley", "99005": "North Sawtooth"}
STATE = "QM"
