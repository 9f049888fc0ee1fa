using System.Globalization;
using System.Text.Json;

namespace MeshTrace.Analysis.Description;

/// <summary>Reads the JSON of a Mesh Configuration Database (Profile 1.0 and 1.0.1).</summary>
/// <remarks>
/// Unknown members are ignored. What identifies or decrypts (keys, addresses, indexes, model identifiers, UUIDs) must be right, or the
/// file is refused with the place. What only describes (times, TTLs, intervals, features, product numbers) is left unknown
/// where it cannot be read. Deviations of known exporters are read and listed in <see cref="NetworkDescription.Repairs"/>.
/// </remarks>
public static partial class NetworkDescriptionReader
{
    private const string LeftUnknown = "left unknown";
    private const string ReadAsEmpty = "read as empty";

    /// <param name="utf8">The whole file: UTF-8 with or without a byte order mark, or UTF-16 with one.</param>
    /// <param name="fileName">For messages only.</param>
    /// <exception cref="NetworkDescriptionException">The JSON is malformed, or something in it that is needed cannot be read.</exception>
    public static NetworkDescription Read(ReadOnlyMemory<byte> utf8, string fileName)
    {
        ArgumentNullException.ThrowIfNull(fileName);
        if (utf8.Length > DescriptionLimits.FileOctets)
        {
            throw new NetworkDescriptionException(fileName, "$", string.Create(CultureInfo.InvariantCulture,
                $"{utf8.Length} octets, at most {DescriptionLimits.FileOctets} are read"));
        }
        var context = new DescriptionContext(fileName);
        using JsonDocument document = DescriptionJson.Parse(utf8, context);
        var root = new DescriptionValue(context, null, "$", document.RootElement);
        return ReadNetwork(Unwrap(root.AsObject()));
    }

    /// <summary>Some exporters put the whole database into one member.</summary>
    private static DescriptionObject Unwrap(DescriptionObject root)
    {
        if (root.Find("netKeys") is not null || root.Find("nodes") is not null || root.Find("meshNetwork") is not { } wrapped)
            return root;
        wrapped.Note("the database stands inside this member, unwrapped");
        return wrapped.AsObject();
    }

    private static NetworkDescription ReadNetwork(DescriptionObject network)
    {
        if (network.Find("netKeys") is null && network.Find("nodes") is null)
            throw network.Place.Fail("neither netKeys nor nodes: this is no Mesh Configuration Database");

        bool partial = network.Find("partial")?.FlagOrUnknown() ?? false;
        network.Expect("$schema", "not needed");
        network.Expect("id", "not needed");
        DescribedNetKey[] netKeys = PartOf(network, "netKeys", partial, ReadNetKey);
        DescribedAppKey[] appKeys = PartOf(network, "appKeys", partial, ReadAppKey);
        NoteDoubledIndexes(network, "netKeys", netKeys.Select(key => key.Index));
        NoteDoubledIndexes(network, "appKeys", appKeys.Select(key => key.Index));
        if (netKeys.Length == 0 && !partial)
            network.Note("netKeys", "no NetKey: without one typed by hand nothing can be decrypted");

        return new NetworkDescription
        {
            Name = network.Expect("meshName", LeftUnknown)?.TextOrUnknown(),
            MeshUuid = network.Expect("meshUUID", LeftUnknown)?.Uuid(),
            Version = ReadVersion(network),
            Timestamp = network.Expect("timestamp", LeftUnknown)?.TimeOrUnknown(),
            Partial = partial,
            IvIndexHint = ReadIvIndexHint(network),
            NetKeys = netKeys,
            AppKeys = appKeys,
            Provisioners = PartOf(network, "provisioners", partial, ReadProvisioner),
            Nodes = ReadNodes(network, partial),
            Groups = ListOf(network, "groups", ReadGroup),
            Scenes = ListOf(network, "scenes", ReadScene),
            Exclusions = OptionalListOf(network, "networkExclusions", ReadExclusion),
            Repairs = network.Context.Repairs.ToLines(),
        };
    }

    private static string? ReadVersion(DescriptionObject network)
    {
        if (network.Expect("version", "read as 1.0.1")?.TextOrUnknown() is not { } text)
            return null;
        string version = SafeText.Strip(text, longest: 12);
        if (version is not ("1.0.0" or "1.0.1"))
            network.Note("version", "neither 1.0.0 nor 1.0.1, read as 1.0.1");
        return version;
    }

    /// <summary>Not part of the profile; two exporters add it.</summary>
    private static uint? ReadIvIndexHint(DescriptionObject network)
    {
        if (network.Find("ivIndex")?.WholeNumberOrUnknown(0, uint.MaxValue) is not { } ivIndex)
            return null;
        network.Note("ivIndex", "not part of the profile, taken as a hint");
        return (uint)ivIndex;
    }

    private static void NoteDoubledIndexes(DescriptionObject network, string member, IEnumerable<int> indexes)
    {
        var seen = new HashSet<int>();
        foreach (int index in indexes)
        {
            if (!seen.Add(index))
                network.Note(member, "two keys with the same index, both kept", string.Create(CultureInfo.InvariantCulture, $"index {index}"));
        }
    }

    /// <summary>A list that the profile requires; its absence is noted and read as empty.</summary>
    private static T[] ListOf<T>(DescriptionObject owner, string member, Func<DescriptionObject, T> read) =>
        owner.Expect(member, ReadAsEmpty)?.AsList(entry => read(entry.AsObject())) ?? [];

    /// <summary>A list that a part of a larger database may leave out.</summary>
    private static T[] PartOf<T>(DescriptionObject network, string member, bool partial, Func<DescriptionObject, T> read) =>
        partial ? OptionalListOf(network, member, read) : ListOf(network, member, read);

    private static T[] OptionalListOf<T>(DescriptionObject owner, string member, Func<DescriptionObject, T> read) =>
        owner.Find(member)?.AsList(entry => read(entry.AsObject())) ?? [];

    private static int? OptionalNumber(DescriptionObject owner, string member, int low, int high) =>
        (int?)owner.Find(member)?.WholeNumberOrUnknown(low, high);
}
