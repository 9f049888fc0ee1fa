using System.Globalization;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>Elements and models.</summary>
public static partial class NetworkDescriptionReader
{
    private static DescribedElement[] ReadElements(DescriptionObject node, MeshAddress unicast)
    {
        var indexes = new HashSet<int>();
        DescribedElement[] elements = node.Expect("elements", "number of elements unknown")?.AsList(entry =>
        {
            DescriptionValue index = entry.AsObject().Need("index");
            DescribedElement element = ReadElement(entry.AsObject(), index, unicast);
            return indexes.Add(element.Index) ? element : throw index.Fail("another element of this node has the same index");
        }, DescriptionLimits.ElementsPerNode) ?? [];
        if (elements.Length == 0 && node.Find("elements") is { } empty)
            empty.Note("empty: the composition was never read, number of elements unknown");
        return elements;
    }

    private static DescribedElement ReadElement(DescriptionObject element, DescriptionValue indexValue, MeshAddress unicast)
    {
        int index = indexValue.WholeNumber(0, DescriptionLimits.ElementsPerNode - 1);
        int address = unicast.Value + index;
        if (address >= 0x8000)
            throw indexValue.Fail("the element address would lie beyond 7FFF, the last unicast address");
        var place = new MeshAddress((ushort)address);
        return new DescribedElement
        {
            Index = index,
            Address = place,
            Name = element.Find("name")?.TextOrUnknown(),
            Location = element.Expect("location", LeftUnknown)?.Hex16OrUnknown(),
            Models = ListOf(element, "models", model => ReadModel(model, place)),
        };
    }

    private static DescribedModel ReadModel(DescriptionObject model, MeshAddress element)
    {
        (ushort? company, ushort modelId) = model.Need("modelId").Model();
        return new DescribedModel
        {
            Element = element,
            CompanyId = company,
            ModelId = modelId,
            Subscribe = model.Expect("subscribe", ReadAsEmpty)?.AsList(entry => entry.GroupOrLabel()) ?? [],
            Bind = model.Expect("bind", ReadAsEmpty)?.AsList(entry => entry.KeyIndex()) ?? [],
            Publish = ReadPublish(model),
        };
    }

    private static DescribedPublish? ReadPublish(DescriptionObject model)
    {
        if (model.Find("publish") is not { } value)
            return null;
        DescriptionObject publish = value.AsObject();
        if (publish.Expect("address", "read as no publication")?.Address() is not { } address || address.Address == MeshAddress.Unassigned)
            return null;
        (int? count, int? interval) = ReadPublishRetransmit(publish);
        return new DescribedPublish
        {
            Address = address,
            AppKeyIndex = publish.Expect("index", LeftUnknown)?.KeyIndex(),
            Ttl = ReadPublishTtl(publish),
            PeriodMs = ReadPeriod(publish),
            RetransmitCount = count,
            RetransmitIntervalMs = interval,
            FriendshipCredentials = OptionalNumber(publish, "credentials", 0, 1) is { } credentials ? credentials == 1 : null,
        };
    }

    private static int? ReadPublishTtl(DescriptionObject publish)
    {
        int? ttl = OptionalNumber(publish, "ttl", 0, DescribedPublish.DefaultTtl);
        if (ttl is null or <= 127 or DescribedPublish.DefaultTtl)
            return ttl;
        publish.Note("ttl", "128..254 are prohibited, left unknown");
        return null;
    }

    /// <summary>Publish Period (Mesh Protocol 1.1 §4.2): steps of a resolution. One exporter writes milliseconds instead.</summary>
    private static int? ReadPeriod(DescriptionObject publish)
    {
        const int LongestMs = 63 * 600_000;
        if (publish.Find("period") is not { } value)
            return null;
        if (value.IsNumber)
        {
            if (value.WholeNumberOrUnknown(0, LongestMs) is not { } ms)
                return null;
            value.Note(ms % 100 == 0
                ? "an integer instead of steps and resolution, read as milliseconds"
                : "an integer instead of steps and resolution, read as milliseconds though it is no multiple of 100",
                string.Create(CultureInfo.InvariantCulture, $"{ms} ms"));
            return (int)ms;
        }
        DescriptionObject period = value.AsObject();
        int? steps = OptionalNumber(period, "numberOfSteps", 0, 63);
        int? resolution = OptionalNumber(period, "resolution", 0, 600_000);
        if (steps == 0)
            return 0;   // no periodic publication, whatever the resolution
        if (steps is null || resolution is null)
            return null;
        if (resolution is 100 or 1_000 or 10_000 or 600_000)
            return steps * resolution;
        period.Note("resolution", "none of 100, 1000, 10000, 600000 ms, left unknown");
        return null;
    }

    private static (int? Count, int? IntervalMs) ReadPublishRetransmit(DescriptionObject publish)
    {
        if (publish.Find("retransmit") is not { } value)
            return (null, null);
        DescriptionObject retransmit = value.AsObject();
        int? interval = OptionalNumber(retransmit, "interval", 0, 1_600);
        return (OptionalNumber(retransmit, "count", 0, 7), interval == 0 ? null : interval);
    }
}
