using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>The tables around the nodes: keys, provisioners, groups, scenes, exclusions.</summary>
public static partial class NetworkDescriptionReader
{
    private static DescribedNetKey ReadNetKey(DescriptionObject key) => new()
    {
        Name = key.Expect("name", LeftUnknown)?.TextOrUnknown(),
        Index = key.Need("index").KeyIndex(),
        Key = key.Need("key").Key(),
        OldKey = ReadOldKey(key),
        Phase = (int?)key.Expect("phase", "read as 0, no key refresh")?.WholeNumberOrUnknown(0, 2) ?? 0,
        SecureNodesOnly = key.Expect("minSecurity", LeftUnknown) is { } security ? ReadSecurity(security) : null,
        Timestamp = key.Find("timestamp")?.TimeOrUnknown(),
    };

    private static DescribedAppKey ReadAppKey(DescriptionObject key) => new()
    {
        Name = key.Expect("name", LeftUnknown)?.TextOrUnknown(),
        Index = key.Need("index").KeyIndex(),
        BoundNetKey = key.Expect("boundNetKey", LeftUnknown)?.KeyIndex(),
        Key = key.Need("key").Key(),
        OldKey = ReadOldKey(key),
    };

    private static KeyOctets? ReadOldKey(DescriptionObject owner)
    {
        if (owner.Find("oldKey") is not { } value)
            return null;
        KeyOctets key = value.Key();
        if (!key.IsAllZero)
            return key;
        value.Note("32 zeros, read as no old key");
        return null;
    }

    /// <summary>True for secure, false for insecure; older exports write high and low.</summary>
    private static bool? ReadSecurity(DescriptionValue value)
    {
        switch (value.TextOrUnknown())
        {
            case null:
                return null;
            case "secure":
                return true;
            case "insecure":
                return false;
            case "high":
                value.Note("\"high\" read as secure");
                return true;
            case "low":
                value.Note("\"low\" read as insecure");
                return false;
            default:
                value.Note("neither secure nor insecure, left unknown");
                return null;
        }
    }

    private static DescribedProvisioner ReadProvisioner(DescriptionObject provisioner) => new()
    {
        Name = provisioner.Expect("provisionerName", LeftUnknown)?.TextOrUnknown(),
        Uuid = provisioner.Expect("UUID", LeftUnknown)?.Uuid(),
        UnicastRanges = ListOf(provisioner, "allocatedUnicastRange", range => ReadRange(range, "lowAddress", "highAddress")),
        GroupRanges = ListOf(provisioner, "allocatedGroupRange", range => ReadRange(range, "lowAddress", "highAddress")),
        SceneRanges = ListOf(provisioner, "allocatedSceneRange", range => ReadRange(range, "firstScene", "lastScene")),
    };

    private static DescribedRange ReadRange(DescriptionObject range, string lowMember, string highMember)
    {
        ushort low = range.Need(lowMember).Hex16();
        ushort high = range.Need(highMember).Hex16();
        if (low <= high)
            return new DescribedRange(low, high);
        range.Note(lowMember, "the range stands upside down, read the other way round");
        return new DescribedRange(high, low);
    }

    private static DescribedGroup ReadGroup(DescriptionObject group)
    {
        DescribedAddress? parent = group.Expect("parentAddress", "read as top level")?.Address();
        if (parent is { } address && address.Address == MeshAddress.Unassigned)
            parent = null;
        return new DescribedGroup(group.Expect("name", LeftUnknown)?.TextOrUnknown(), group.Need("address").GroupOrLabel(), parent);
    }

    private static DescribedScene ReadScene(DescriptionObject scene)
    {
        string? name = scene.Expect("name", LeftUnknown)?.TextOrUnknown();
        DescriptionValue number = FindSceneNumber(scene);
        ushort value = number.Hex16();
        if (value == 0)
            throw number.Fail("scene 0000 does not exist, 0001..FFFF needed");
        return new DescribedScene(name, value, scene.Expect("addresses", ReadAsEmpty)?.AsList(entry => entry.Unicast()) ?? []);
    }

    private static DescriptionValue FindSceneNumber(DescriptionObject scene)
    {
        if (scene.Find("number") is null && scene.Find("scene") is { } older)
        {
            older.Note("older name of number, same meaning");
            return older;
        }
        return scene.Need("number");
    }

    private static DescribedExclusion ReadExclusion(DescriptionObject exclusion)
    {
        DescriptionValue ivIndex = exclusion.Need("ivIndex");
        return new DescribedExclusion(ivIndex.UnsignedNumber(), exclusion.Need("addresses").AsList(entry => entry.Unicast()));
    }
}
