namespace MeshTrace.Synthesis;

/// <summary>What <see cref="Composer"/> made.</summary>
/// <param name="Name">The scenario's name: the files are NAME.pcapng, NAME.network.json, NAME.truth.json.</param>
/// <param name="Capture">Path of the capture.</param>
/// <param name="Description">Path of the network description.</param>
/// <param name="Truth">Path of the truth.</param>
/// <param name="Frames">Frames in the capture.</param>
/// <param name="Packets">Packets that were on the air.</param>
/// <param name="Floods">Network PDUs of the network.</param>
/// <param name="Presses">Presses.</param>
/// <param name="Transfers">Segmented messages.</param>
/// <param name="DurationS">Simulated seconds.</param>
public sealed record ComposeSummary(
    string Name, string Capture, string Description, string Truth, long Frames, long Packets, int Floods, int Presses, int Transfers,
        double DurationS);

/// <summary>The three files in memory, for tests.</summary>
/// <param name="Capture">Octets of the pcapng file.</param>
/// <param name="Description">UTF-8 JSON of the network description.</param>
/// <param name="Truth">UTF-8 JSON of the truth.</param>
public sealed record ComposedFiles(byte[] Capture, byte[] Description, byte[] Truth);
